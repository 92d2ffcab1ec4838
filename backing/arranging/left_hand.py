"""The left hand: from bars, harmony and a style to bass and chords.

The left hand is silent under a pickup and where a symbol says "no chord".  No bass sounds
into the next bass, no chord into the next chord.
"""

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache

from backing.arranging.arrangement import Event, Origin
from backing.arranging.box_true import Side, on_side
from backing.arranging.face import ONCE, Face
from backing.arranging.figures import Grounds, HandPress, presses
from backing.arranging.places import stands
from backing.arranging.spans import changes_of
from backing.arranging.style import Goal, Hand, Style, Tones, Until
from backing.arranging.voicing import bass_of, bass_pitches, chord_pitches
from backing.music.chord import KINDS, Chord
from backing.music.key import Key
from backing.music.pitch import pitch_class
from backing.music.played import MappedBar, PlayedTune

_LOUDEST = 100
#: A run has at most so many steps.
_LONGEST_RUN = 4
_LETTERS = "CDEFGAB"
#: How many letters above the root a note of a chord is spelt, by its semitones.
_PLACE_OF = {0: 0, 3: 2, 4: 2, 6: 4, 7: 4, 8: 4, 10: 6, 11: 6}


def left_hand(
    played: PlayedTune,
    grounds: Grounds,
    style: Style,
    *,
    thirds: bool = True,
    full: bool = False,
    side: Side | None = None,
    face: Face = ONCE,
) -> tuple[tuple[Event, ...], tuple[Event, ...]]:
    """Bass and chord events of a style.

    `thirds` False leaves the third out of every chord, `full` sounds every note of a symbol.
    With `side` only what the bass side of a box has in the direction of the bellows.  `face`
    says which time through the tune it is.
    """
    bars, dance = played.bars, played.dance.name if played.dance else ""
    where = stands(played, changes_of(grounds.harmony.spans), style.mentioned, face)
    found = presses(bars, where, style, dance, grounds)
    bass = [press for press in found if press.stroke.play is Hand.BASS]
    chords = [press for press in found if press.stroke.play is Hand.CHORD]
    thirds = thirds and style.thirds
    basses = _basses(bass, grounds)
    if side is not None:
        return (
            _events(_basses_on(side, bass, bars, basses)),
            _events(_chords_on(side, chords, bars, thirds=thirds)),
        )
    return (
        _events(zip(bass, basses, strict=True)),
        _events((press, _chord(press, thirds, full)) for press in chords),
    )


def _basses_on(
    side: Side,
    found: Sequence[HandPress],
    bars: Sequence[MappedBar],
    keys: Sequence[tuple[int, ...]],
) -> Iterator[tuple[HandPress, tuple[int, ...]]]:
    """The basses that a box has in the direction of the bellows."""

    def sounding(number: int, way: str) -> tuple[int, ...]:
        tone = side.bass(found[number].span.chord, keys[number][0] % 12, way)
        return () if tone is None else bass_of(tone, side.lowest_bass)

    return on_side(found, bars, side, sounding)


def _chords_on(
    side: Side, found: Sequence[HandPress], bars: Sequence[MappedBar], *, thirds: bool
) -> Iterator[tuple[HandPress, tuple[int, ...]]]:
    """The chords that a box has in the direction of the bellows; single notes it has none of."""

    def sounding(number: int, way: str) -> tuple[int, ...]:
        chord = side.chord(found[number].span.chord, way)
        tones = found[number].stroke.tones
        whole = thirds and side.thirds and tones is Tones.ALL
        tones = Tones.ALL if whole else Tones.NO_THIRD
        return () if chord is None else chord_pitches(chord, tones, lowest=side.lowest_chord)

    return on_side(found, bars, side, sounding)


def _events(found: Iterable[tuple[HandPress, tuple[int, ...]]]) -> tuple[Event, ...]:
    """Events of one hand: the first of those that fall together, none into the next."""
    events: list[Event] = []
    reaches, before = False, None
    for press, keys in found:
        onset, length, stroke, _, bar = press
        # The first stroke of a bar can't fall together with one that stays in another.
        if events and (reaches or bar is before or stroke.on_change):
            last = events[-1]
            if last.onset == onset:
                continue
            if reaches and last.onset + last.length > onset:
                events[-1] = last._replace(length=onset - last.onset)
        # What is measured up to the next stroke of its bar can't sound into it.
        reaches, before = stroke.on_change or stroke.hold.until is not Until.NEXT, bar
        velocity = max(1, min(127, _LOUDEST * stroke.strength // 100))
        events.append(Event(onset, length, keys, velocity, Origin(-1, bar.index, -1)))
    return tuple(events)


def _chord(press: HandPress, thirds: bool, full: bool) -> tuple[int, ...]:
    tones = press.stroke.tones
    if not thirds and tones is Tones.ALL:
        tones = Tones.NO_THIRD
    return chord_pitches(press.span.chord, tones, full=full)


# -- basses ----------------------------------------------------------------------


def _basses(found: Sequence[HandPress], grounds: Grounds) -> list[tuple[int, ...]]:
    """The pitches of each bass; degrees go by turns while the harmony stays.

    A run, or a leading note, never stands where a chord is new: its own bass does.
    """
    named = {degree for press in found for degree in press.stroke.degrees}
    goals = any(isinstance(degree, Goal) for degree in named)
    following = {span.start: span.chord for span in grounds.harmony.spans} if goals else {}
    pitches: list[tuple[int, ...]] = []
    turn, last = 0, None
    for at, press in enumerate(found):
        span, degrees = press.span, press.stroke.degrees
        same = last is not None and (span is last or span.start == last.start)
        turn, last = turn + 1 if same else 0, span
        degree = degrees[turn % len(degrees)]
        if isinstance(degree, int):
            pitches.append(bass_pitches(span.chord, degree))
            continue
        goal = following.get(span.stop)
        if degree is Goal.TONIC or goal is None or turn == 0:
            pitches.append(bass_pitches(span.chord))
        elif degree is Goal.LEADING:
            pitches.append(bass_of(goal.bass_class - 1))
        else:
            pitches.append(run_step(span.chord, goal, press.bar.key, _steps_left(found, at)))
    return pitches


def _steps_left(found: Sequence[HandPress], at: int) -> int:
    """How many steps of the run are left, this one counted, before the harmony changes."""
    left = 0
    for press in found[at : at + _LONGEST_RUN]:
        if press.span is not found[at].span or press.stroke.degrees != found[at].stroke.degrees:
            break
        left += 1
    return left


@lru_cache(maxsize=2048)
def run_step(chord: Chord, goal: Chord, key: Key, steps: int) -> tuple[int, int]:
    """The bass so many steps of the scale before the next chord's bass.

    The scale is the key's, with the notes of the chord in force: over E major in A minor
    it has G sharp.  The run comes from the side on which the present bass lies; where the
    bass stays, it is played again.

    >>> run_step(Chord("G"), Chord("C"), Key("G"), 1), run_step(Chord("G"), Chord("C"), Key("G"), 2)
    ((47, 59), (45, 57))
    """
    here, there = bass_pitches(chord)[0], bass_pitches(goal)[0]
    scale = sorted({*_scale(chord, key), goal.bass_class})
    if here == there:
        return bass_pitches(chord)
    way = -1 if here < there else 1
    place = scale.index(goal.bass_class) + way * steps
    return bass_of(scale[place % len(scale)])


def _scale(chord: Chord, key: Key) -> set[int]:
    """The pitch classes of the key, those of the chord's letters as the chord has them."""
    start = _LETTERS.index(chord.step)
    classes = {letter: pitch_class(letter, key.signature.get(letter, 0)) for letter in _LETTERS}
    for step in KINDS[chord.kind]:
        if (place := _PLACE_OF.get(step)) is not None:
            classes[_LETTERS[(start + place) % 7]] = (chord.root + step) % 12
    return set(classes.values())
