"""Which note each bass of the left hand is: degrees by turns, root and fifth, runs."""

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import groupby, zip_longest

from backing.arranging.figures import Grounds, HandPress
from backing.arranging.spans import HarmonySpan
from backing.arranging.style import Degree, Goal, Until
from backing.arranging.voicing import bass_of, bass_pitches
from backing.music.chord import KINDS, Chord
from backing.music.key import Key
from backing.music.pitch import pitch_class

#: A run has at most so many steps.
_LONGEST_RUN = 4
_LETTERS = "CDEFGAB"
#: How many letters above the root a note of a chord is spelt, by its semitones.
_PLACE_OF = {0: 0, 3: 2, 4: 2, 6: 4, 7: 4, 8: 4, 10: 6, 11: 6}
_ROOT: tuple[Degree, ...] = (1,)
_BY_TURNS: tuple[Degree, ...] = (1, 5)
_RUN: tuple[Degree, ...] = (Goal.RUN,)
_FIFTH, _FOURTH = 7, 5
#: A bass is struck so often in a row, not oftener.
_IN_A_ROW = 4


#: A bass with its degrees and whose turn it is, from 0; whether it must be the first of them.
_BassTurn = tuple[HandPress, tuple[Degree, ...], int, bool]


def basses(found: Sequence[HandPress], grounds: Grounds, *, fifths: bool) -> list[tuple[int, ...]]:
    """The pitches of each bass; degrees go by turns while the harmony stays.

    With `fifths` root and fifth go by turns over chords that last more than a bar, and where
    the root would be struck more than four times in a row.  A run, or a leading note, never
    stands where a chord is new: its own bass does.
    """
    turns = list(_turns(found, fifths=fifths))
    named = {degree for _, degrees, _, _ in turns for degree in degrees}
    goals = any(isinstance(degree, Goal) for degree in named)
    following = {span.start: span.chord for span in grounds.harmony.spans} if goals else {}
    pitches: list[tuple[int, ...]] = []
    for at, (press, degrees, turn, _) in enumerate(turns):
        degree = degrees[turn % len(degrees)]
        if isinstance(degree, int):
            pitches.append(bass_pitches(press.span.chord, degree))
            continue
        goal = following.get(press.span.stop)
        if degree is Goal.TONIC or goal is None or turn == 0:
            pitches.append(bass_pitches(press.span.chord))
        elif degree is Goal.LEADING:
            pitches.append(bass_of(goal.bass_class - 1))
        else:
            left = _steps_left(found, at)
            pitches.append(run_step(press.span.chord, goal, press.bar.key, left))
    return _varied(pitches, turns) if fifths else pitches


# -- by turns --------------------------------------------------------------------


def _turns(found: Sequence[HandPress], *, fifths: bool) -> Iterator[_BassTurn]:
    """Each bass with its turn.

    The first degree comes where a chord is new, on the downbeat of a phrase, and as the last
    bass of a part; of two degrees also on the downbeat after a bar of several basses.  Over a
    long chord a phrase never ends on a lone fifth.  A run sets out from the root; one that leads
    into no other harmony is none.
    """
    turn, in_bar = 0, 0
    long: bool | None = None
    before_bar = before_span = None
    for at, (press, following) in enumerate(zip_longest(found, found[1:])):
        _, _, stroke, span, bar = press
        degrees = stroke.degrees
        if degrees == _RUN and not _leads(found, at):
            degrees = _ROOT
        due = False
        if span is not before_span:
            due = before_span is None or not _together(span, before_span)
            before_span = span
            long = None
        # The first bass of a harmony is its root, so most need not be asked how long they are.
        if fifths and not due and degrees == _ROOT and stroke.hold.until is not Until.CHANGE:
            long = _is_long(span) if long is None else long
            degrees = _BY_TURNS if long else degrees
        if bar is not before_bar:
            if not due and press.onset == bar.onset:
                due = bar.opens_phrase or (in_bar > 1 and len(degrees) == len(_BY_TURNS))
            before_bar, in_bar = bar, 0
        in_bar += 1
        if following is None or (following.bar is not bar and following.bar.part != bar.part):
            due = due or isinstance(degrees[0], int)
        elif degrees is _BY_TURNS and following.stroke.degrees == _RUN:
            due = due or (following.span is span and _leads(found, at + 1))
        elif degrees is _BY_TURNS and in_bar == 1 and following.bar is not bar:
            due = due or bar.position == bar.phrase.stop - 1
        turn = 0 if due else turn + 1
        yield press, degrees, turn, due


def _together(span: HarmonySpan, other: HarmonySpan) -> bool:
    """True for spans that begin at one place: harmony, and the key note under it."""
    start, before = span.start, other.start
    return start.as_integer_ratio() == before.as_integer_ratio()


def _is_long(span: HarmonySpan) -> bool:
    """True for a chord of more than a bar that has a fifth to go by turns with its root."""
    return _has_fifth(span.chord) and span.stop - span.start > span.bar.length


def _has_fifth(chord: Chord) -> bool:
    return chord.bass is None and _FIFTH in KINDS[chord.kind]


def _varied(pitches: list[tuple[int, ...]], turns: Sequence[_BassTurn]) -> list[tuple[int, ...]]:
    """The same with fifths in turn where one bass would be struck too often in a row."""
    found: list[tuple[int, ...]] = []
    for _, group in groupby(pitches):
        alike = list(group)
        stop = len(found) + len(alike)
        if len(alike) > _IN_A_ROW:
            roots, after = 0, pitches[stop : stop + 1]
            for at, turn in enumerate(turns[len(found) : stop]):
                fifth = _fifth_of(turn) if roots else None
                joins = at == len(alike) - 1 and [fifth] == after
                if fifth and not joins:
                    alike[at] = fifth
                    roots = 0
                else:
                    roots += 1
        found += alike
    return found


def _fifth_of(turn: _BassTurn) -> tuple[int, ...] | None:
    """The fifth where it may stand for the root: not where the style, the harmony or the form
    wants the root."""
    press, degrees, _, due = turn
    held = press.stroke.hold.until is Until.CHANGE
    if due or held or degrees not in (_ROOT, _BY_TURNS) or not _has_fifth(press.span.chord):
        return None
    return bass_pitches(press.span.chord, 5)


# -- runs ------------------------------------------------------------------------


def _steps_left(found: Sequence[HandPress], at: int) -> int:
    """How many steps of the run are left, this one counted, before the harmony changes."""
    left = 0
    for press in found[at : at + _LONGEST_RUN]:
        if press.span is not found[at].span or press.stroke.degrees != found[at].stroke.degrees:
            break
        left += 1
    return left


def _leads(found: Sequence[HandPress], at: int) -> bool:
    """True where no other bass stands between a run and the next harmony."""
    after = at + _steps_left(found, at)
    return after == len(found) or found[after].span is not found[at].span


@lru_cache(maxsize=2048)
def run_step(chord: Chord, goal: Chord, key: Key, steps: int) -> tuple[int, int]:
    """The bass so many steps of the scale before the next chord's bass.

    The scale is the key's, with the notes of the chord in force: over E major in A minor
    it has G sharp.  The run goes the shorter way from the present bass, which is struck again
    where the way has fewer steps, as it is for a note that would darken the chord: the fourth
    above its root.

    >>> run_step(Chord("G"), Chord("C"), Key("G"), 1), run_step(Chord("G"), Chord("C"), Key("G"), 2)
    ((47, 59), (45, 57))
    >>> run_step(Chord("D"), Chord("E", 0, "minor"), Key("D"), 1)
    (50, 62)
    """
    between = _between(chord, goal, key)
    if steps > len(between):
        return bass_pitches(chord)
    step = between[-steps]
    darkens = step == (chord.root + _FOURTH) % 12 and step not in chord.pitch_classes
    return bass_pitches(chord) if darkens else bass_of(step)


def _between(chord: Chord, goal: Chord, key: Key) -> list[int]:
    """The pitch classes of the scale on the shorter way from one bass to another, both left
    out; downwards where both ways have as many."""
    here, there = chord.bass_class, goal.bass_class
    scale = sorted({*_scale(chord, key), here, there}, key=lambda tone: (tone - here) % 12)
    at = scale.index(there)
    up, down = scale[1:at], scale[:at:-1]
    return [] if here == there else up if len(up) < len(down) else down


def _scale(chord: Chord, key: Key) -> set[int]:
    """The pitch classes of the key, those of the chord's letters as the chord has them."""
    start = _LETTERS.index(chord.step)
    classes = {letter: pitch_class(letter, key.signature.get(letter, 0)) for letter in _LETTERS}
    for step in KINDS[chord.kind]:
        if (place := _PLACE_OF.get(step)) is not None:
            classes[_LETTERS[(start + place) % 7]] = (chord.root + step) % 12
    return set(classes.values())
