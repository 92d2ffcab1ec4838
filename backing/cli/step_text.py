"""What a step of a practice does, in words."""

from collections.abc import Iterator

from backing.music.tempo import decimal
from backing.music.tune import Tune
from backing.practice.devices import laps_of
from backing.practice.passages import Bars, Join, OneSection, Passage
from backing.practice.plan import Click, Close, Ears, Grow, LeadIn, Step
from backing.wording import count

_LED = {
    LeadIn.HELD: "led in by a held chord",
    LeadIn.CHORDS: "led in by chords",
    LeadIn.TUNE: "led in by the last bars of the first part",
}
_CLOSED = {
    Close.HELD: "the last chord held",
    Close.TAG: "with a tag",
    Close.SLOW: "slowing down at the end",
}
_CLICKED = {
    Click.BEATS: "the click on the beats",
    Click.SUBDIVIDED: "the click subdivided",
    Click.OFF_BEATS: "the click off the beats",
    Click.EVERY_OTHER_BAR: "the click in every other bar",
    Click.BY_TURNS: "the click in two bars of four",
}


def passage_text(span: Passage) -> str:
    """What is played: "bars 5-6", "A part", "from A into B"; nothing for the whole tune."""
    if isinstance(span, Bars):
        one = span.first == span.last
        bars = f"bar {span.first}" if one else f"bars {span.first}-{span.last}"
        return f"{bars} with ending {span.ending}" if span.ending else bars
    if isinstance(span, OneSection):
        return f"{span.name.upper()} part"
    if isinstance(span, Join):
        return f"from {span.name} into {span.following}"
    return ""


def devices_text(step: Step, tune: Tune) -> Iterator[str]:
    """What changes from round to round, and what stands between them."""
    every = f", one every {step.every} rounds" if step.every > 1 else ""
    if step.ladder:
        first, last = step.ladder[0], step.ladder[-1]
        top = max(step.ladder, key=lambda rung: abs(rung - first))
        back = "" if last == top else f", then back to {decimal(last * 100)} %"
        rungs = count(len(step.ladder), "step")
        yield f"from {decimal(first * 100)} to {decimal(top * 100)} %{back} in {rungs}{every}"
    if step.grow:
        widest = laps_of(step, tune).spans[-1]
        how = "backwards from the end" if step.grow is Grow.BACKWARDS else f"by the {step.grow}"
        up_to = passage_text(widest) or "the whole tune"
        sizes = count(len(laps_of(step, tune).spans), "step")
        yield f"growing {how} up to {up_to} in {sizes}{every}"
    if step.less_help:
        yield f"melody, chords, click leave one after the other{every}"
    if step.hands:
        yield f"of the left hand the bass alone, the chords alone, then both{every}"
    if step.edges:
        yield "with what leads in and the first note after"
    if step.echo:
        yield "each round again without the melody"
    if step.ears in (Ears.LEFT, Ears.RIGHT):
        yield f"the tune in the {step.ears} ear, the left hand in the other"
    if step.gap:
        yield f"{count(step.gap, 'bar')} between rounds"


def ways_text(step: Step, speed: str) -> Iterator[str]:
    """A step's tempo, or tempi, and its ways to practise, in a word each, as a file's name has
    them."""
    per_cent = [decimal(rung * 100) for rung in step.ladder]
    yield f"{per_cent[0]}-{per_cent[-1]} %" if len(set(per_cent)) > 1 else speed
    words = {
        "edges": step.edges, "growing": step.grow, "less help": step.less_help, "echo": step.echo,
        "left hand by stages": step.hands, "gaps": step.gap, f"tune {step.ears}": step.ears,
    }  # fmt: skip
    yield from (word for word, wanted in words.items() if wanted)


def manner_text(step: Step) -> Iterator[str]:
    """How it begins, how it ends, what the click gives, where that is not as usual."""
    if step.lead_in is not LeadIn.CLICKS:
        yield _LED[step.lead_in]
    if step.close is not Close.STOP:
        yield _CLOSED[step.close]
    if step.click:
        yield _CLICKED[step.click]
