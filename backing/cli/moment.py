"""A moment of a practice in words: what the screen tells while it sounds."""

from backing.cli.step_text import passage_text
from backing.live.shown import Shown, State
from backing.music.tempo import decimal
from backing.practice.passages import OneSection, Passage
from backing.practice.stretch import Kind

#: What is said while there is nothing to play to.
GONE = "the port is gone: waiting for it to come back"
#: What stands between two things that are told in one line.
_BETWEEN = "  |  "


def line(shown: Shown) -> str:
    """All of a moment in one line, what a player looks for first in front."""
    parts = [place_words(shown), beat_words(shown), chord_words(shown), tempo_words(shown)]
    parts += [round_words(shown), *rest_words(shown), step_words(shown)]
    return _BETWEEN.join(part for part in parts if part)


def silent(shown: Shown) -> bool:
    """True while nothing sounds."""
    return shown.state is not State.PLAYING or shown.beat is None


def in_tune(shown: Shown) -> bool:
    """True while the tune sounds: no count-in, gap or the like."""
    return not silent(shown) and shown.beat is not None and shown.beat.stretch.in_tune


def bar_words(shown: Shown) -> tuple[str, str]:
    """What is said before the number of the bar that sounds or comes, and the number; "" for
    none.

    >>> from backing.live.shown import State
    >>> from backing.practice.laying import Target
    >>> from backing.practice.passages import Whole
    >>> bar_words(Shown(State.STOPPED, None, Target(Whole()), None, 1, frozenset()))
    ('stopped', '')
    """
    beat, bar = shown.beat, shown.bar
    sounds = in_tune(shown)
    if sounds and beat:
        bar = beat.bar
    state, before = "stopped", "stopped at bar"
    if shown.state is State.GONE:
        state, before = GONE, f"{GONE}, then bar"
    elif sounds:
        before = "bar"
    elif shown.state is State.PLAYING:
        state = str(beat.stretch.kind) if beat else "begins"
        before = f"{state}, then bar" if beat else "begins at bar"
    if bar is None:
        return state, ""
    return before if bar.number else "pickup", str(bar.number)


def part_words(shown: Shown) -> tuple[str, str]:
    """The name of the part that sounds or comes, and which time it is, "" for the first."""
    bar = shown.beat.bar if shown.beat and in_tune(shown) else shown.bar
    if bar is None or not bar.section:
        return "", ""
    return bar.section, f"time {bar.time}" if bar.time > 1 else ""


def place_words(shown: Shown) -> str:
    """Part and bar; what it is where that is no time through."""
    (before, number), (part, time) = bar_words(shown), part_words(shown)
    where = f"{before} {number}".strip() if number != "0" else before
    part = f"{part} part" if part and number else ""
    words = (part, time if part else "", where) if in_tune(shown) else (where, part, time)
    return ", ".join(each for each in words if each)


def beat_words(shown: Shown) -> str:
    """Which beat of how many sounds."""
    if silent(shown) or shown.beat is None:
        return ""
    return f"beat {shown.beat.place + 1} of {shown.beat.beats}"


def until_words(shown: Shown) -> str:
    """How long it is to the next chord."""
    if not shown.coming:
        return ""
    if shown.beats == 0:
        return "in this beat"
    return "in 1 beat" if shown.beats == 1 else f"in {shown.beats} beats"


def chord_words(shown: Shown) -> str:
    """The chord that sounds, the next one, and when it comes."""
    if silent(shown) or not (shown.chord or shown.coming):
        return ""
    return f"{shown.chord or '–'} → {shown.coming or '–'} {until_words(shown)}".rstrip()


def tempo_words(shown: Shown) -> str:
    """The tempo, with its share of the tune's own."""
    return f"{shown.tempo} ({decimal(shown.factor * 100)} %)"


def round_number(shown: Shown) -> str:
    """Which time of how many it goes round, "2/8"; "" where there is only one."""
    if silent(shown) or shown.beat is None or shown.beat.stretch.times == 1:
        return ""
    stretch = shown.beat.stretch
    return f"{stretch.time}/{stretch.times}" if stretch.times else str(stretch.time)


def round_words(shown: Shown) -> str:
    """Which time of how many it goes round."""
    return f"round {round_number(shown).replace('/', ' of ')}" if round_number(shown) else ""


def rest_words(shown: Shown) -> list[str]:
    """What else there is to say: where it goes round, what is on its way, marked or muted."""
    found = []
    around = _span_words(shown.target.span)
    if shown.beat and in_tune(shown) and shown.beat.stretch.kind is Kind.ECHO:
        found.append("echo")
    if shown.moving and not silent(shown):
        found.append(f"then {around or (f'bar {shown.bar.number}' if shown.bar else 'on')}")
    elif around:
        found.append(around)
    if shown.marks.first is not None:
        found.append(f"from bar {shown.marks.first} to …")
    if shown.marks.last is not None:
        found.append(f"from … to bar {shown.marks.last}")
    if shown.muted:
        found.append(f"without {' and '.join(sorted(shown.muted))}")
    return found


def step_words(shown: Shown) -> str:
    """The step of the practice and how long it still takes, where there are several."""
    if shown.steps < 2:
        return ""
    said = f"step {shown.step} of {shown.steps}"
    if shown.staying:
        return f"{said}, staying on it"
    return said if shown.left is None else f"{said}, {_clock(shown.left)} left"


def _clock(seconds: float) -> str:
    minutes, rest = divmod(max(round(seconds), 0), 60)
    return f"{minutes}:{rest:02}"


def _span_words(span: Passage) -> str:
    """What it goes round in; nothing for the whole tune."""
    words = passage_text(span)
    the = "the " if isinstance(span, OneSection) else ""
    return f"only {the}{words}" if words else ""
