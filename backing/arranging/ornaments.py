"""Ornaments as a box plays them: rolls, trills, mordents and turns as figures of quick notes.

A figure fills the time of its note and ends on it, so the beat never moves.  Neighbours
are those of the key signature.  What the figures are is common practice, from memory, no
source; slides are left out, for a box has none.
"""

from collections.abc import Callable, Iterable
from fractions import Fraction
from functools import lru_cache

from backing.music.key import Key
from backing.music.metre import Metre
from backing.music.pitch import Pitch, pitch_of

#: A quick note lasts a 32nd at most, and never less than a 64th.
QUICK = Fraction(1, 32)
_LEAST = Fraction(1, 64)
_LETTERS = "CDEFGAB"
#: The highest MIDI key.
_HIGHEST = 127

#: (steps of the scale from the note, length) of each note of a figure
ScaleSteps = list[tuple[int, Fraction]]
#: (length, MIDI key) of each note of a figure
OrnamentNotes = tuple[tuple[Fraction, int], ...]


def ornament_of(decorations: Iterable[str]) -> str:
    """The first ornament of a note that can be played, "" where there is none.

    >>> ornament_of(("upbow", "roll"))
    'roll'
    """
    return next((name for name in decorations if name in _FIGURES), "")


@lru_cache(maxsize=4096)
def figure(ornament: str, pitch: Pitch, length: Fraction, key: Key, metre: Metre) -> OrnamentNotes:
    """The quick notes that an ornament makes of a note; the note alone where it is too short.

    >>> from backing.music.key import parse_key
    >>> from backing.music.metre import parse_metre
    >>> from backing.music.pitch import parse_pitch
    >>> long = parse_pitch("B4"), Fraction(3, 8), parse_key("G"), parse_metre("6/8")
    >>> [(str(length), midi) for length, midi in figure("roll", *long)]
    [('1/8', 71), ('1/32', 72), ('3/32', 71), ('1/32', 69), ('3/32', 71)]
    """
    steps = _FIGURES[ornament](length, metre)
    return tuple((part, neighbour(pitch, by, key).midi) for by, part in steps)


def neighbour(pitch: Pitch, by: int, key: Key) -> Pitch:
    """The next note above (below where `by` is -1), as the key signature has it.

    Beside a note that is not the signature's, one further than a whole tone, or not
    beyond it at all, comes as near as that; at the ends of what MIDI has it is the note
    itself.

    >>> from backing.music.key import parse_key
    >>> str(neighbour(pitch_of("E", 0, 4), 1, parse_key("G")))
    'F#4'
    >>> str(neighbour(pitch_of("C", 1, 5), -1, parse_key("Dm")))
    'B4'
    """
    if not by:
        return pitch
    place = _LETTERS.index(pitch.step) + by
    letter, octave = _LETTERS[place % 7], pitch.octave + place // 7
    signature = key.signature
    found = pitch_of(letter, signature.get(letter, 0), octave)
    if pitch.alter != signature.get(pitch.step, 0):
        distance = min(max((found.midi - pitch.midi) * by, 1), 2)
        change = pitch.midi + distance * by - found.midi
        found = pitch_of(letter, found.alter + change, octave)
    return found if 0 <= found.midi <= _HIGHEST else pitch


# -- the figures ------------------------------------------------------------------


def _pulse(metre: Metre) -> Fraction:
    """The quick note that tunes in a metre run in: quavers, but semiquavers in 2/4."""
    return Fraction(1, 16) if (metre.count, metre.unit) == (2, 4) else Fraction(1, 8)


def _quick(length: Fraction) -> Fraction:
    """How long a quick note is in such a time: a quarter of it at most; 0 where too short."""
    quick = min(QUICK, length / 4)
    return quick if quick >= _LEAST else Fraction(0)


def _roll(length: Fraction, metre: Metre) -> ScaleSteps:
    """Three pulses are the note, cut from above, tapped from below: the long roll of five
    notes.  Two pulses are the short one, without the first note; less is a cut alone.
    Longer notes are held first.  Where half the note has no room for a cut, the whole has."""
    pulse = _pulse(metre)
    if 2 * length >= 5 * pulse:
        return [(0, length - 2 * pulse), *_struck(1, pulse), *_struck(-1, pulse)]
    if 2 * length >= 3 * pulse and _quick(length / 2):
        return [*_struck(1, length / 2), *_struck(-1, length / 2)]
    return _struck(1, length)


def _struck(by: int, length: Fraction) -> ScaleSteps:
    """A quick neighbour, then the note."""
    quick = _quick(length)
    return [(by, quick), (0, length - quick)] if quick else [(0, length)]


def _trill(length: Fraction, metre: Metre) -> ScaleSteps:
    """Note and upper note by turns, eight to a felt beat and six to a beat of three; it
    begins and ends on the note.  Where three do not fit it is an upper mordent."""
    beat = metre.beats[0] if metre.beats else Fraction(1, 4)
    each = max(beat / (6 if beat.numerator == 3 else 8), QUICK)
    count = length // each
    count -= 1 - count % 2
    if count < 3:
        return _mordent(1, length)
    return [*((place % 2, each) for place in range(count - 1)), (0, length - (count - 1) * each)]


def _mordent(by: int, length: Fraction) -> ScaleSteps:
    """The note, its neighbour, and the note held."""
    quick = _quick(length)
    return [(0, quick), (by, quick), (0, length - 2 * quick)] if quick else [(0, length)]


def _turn(by: int, length: Fraction) -> ScaleSteps:
    """One neighbour, the note, the other neighbour, the note held."""
    each = min(2 * QUICK, length / 4)
    if each < _LEAST:
        return [(0, length)]
    return [(by, each), (0, each), (-by, each), (0, length - 3 * each)]


def _upper_mordent(length: Fraction, _: Metre) -> ScaleSteps:
    return _mordent(1, length)


def _lower_mordent(length: Fraction, _: Metre) -> ScaleSteps:
    return _mordent(-1, length)


def _upper_turn(length: Fraction, _: Metre) -> ScaleSteps:
    return _turn(1, length)


def _lower_turn(length: Fraction, _: Metre) -> ScaleSteps:
    return _turn(-1, length)


#: Names as in ABC 2.1 clause 4.14.
_FIGURES: dict[str, Callable[[Fraction, Metre], ScaleSteps]] = {
    "roll": _roll,
    "trill": _trill,
    "mordent": _lower_mordent,
    "lowermordent": _lower_mordent,
    "uppermordent": _upper_mordent,
    "pralltriller": _upper_mordent,
    "turn": _upper_turn,
    "turnx": _upper_turn,
    "invertedturn": _lower_turn,
    "invertedturnx": _lower_turn,
}
