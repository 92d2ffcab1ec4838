"""The chords that a tune may be given: those of its mode, and those that its notes ask for."""

from collections.abc import Iterable, Sequence
from enum import StrEnum
from functools import lru_cache

from backing.music.chord import Chord
from backing.music.key import Key
from backing.music.pitch import SEMITONES
from backing.music.tonality import spell_class

_LETTERS = "CDEFGAB"
_KIND_OF = {(4, 7): "major", (3, 7): "minor", (3, 6): "diminished"}
#: Degrees of the mode whose chords make the plain palette, the tonic first.
_PLAIN = {
    "major": (1, 4, 5, 2),
    "lydian": (1, 5, 2, 6),
    "mixolydian": (1, 7, 4, 5),
    "dorian": (1, 7, 4, 3),
    "minor": (1, 7, 4, 3),
    "phrygian": (1, 2, 7, 3),
    "locrian": (1, 2, 3, 7),
}
#: Degrees on whose chords a section may end.
_CLOSING = {
    "major": (1, 4, 5),
    "lydian": (1, 2, 5),
    "mixolydian": (1, 4, 5, 7),
    "dorian": (1, 4, 5, 7),
    "minor": (1, 4, 5, 7),
    "phrygian": (1, 2, 7),
    "locrian": (1, 2, 7),
}


class Palette(StrEnum):
    """How many chords there are to choose from."""

    PLAIN = "plain"
    FULL = "full"


@lru_cache(maxsize=256)
def triad(key: Key, degree: int) -> Chord:
    """The chord on a degree (1 to 7) of a key, as its scale has it.

    >>> from backing.music.key import parse_key
    >>> [str(triad(parse_key("Ador"), degree)) for degree in (1, 4, 7)]
    ['Am', 'D', 'G']
    """
    letter = _LETTERS[(_LETTERS.index(key.step) + degree - 1) % 7]
    scale = key.scale
    root, third, fifth = (scale[(degree - 1 + step) % 7] for step in (0, 2, 4))
    kind = _KIND_OF.get(((third - root) % 12, (fifth - root) % 12), "major")
    return Chord(letter, _alter(letter, root), kind)


def _alter(letter: str, pitch_class: int) -> int:
    """How far a letter is from a pitch class, in semitones between -5 and 6."""
    return (pitch_class - SEMITONES[letter] + 5) % 12 - 5


@lru_cache(maxsize=256)
def mode_of(key: Key) -> str:
    """The mode of a key as its scale sounds: a major one with a flat seventh written is
    mixolydian; major or minor, by its third, where it is none of the five others."""
    steps = tuple((tone - key.tonic) % 12 for tone in key.scale)
    return _MODE_OF.get(steps, "minor" if key.minor else "major")


_MODE_OF: dict[tuple[int, ...], str] = {
    (0, 2, 4, 6, 7, 9, 11): "lydian",
    (0, 2, 4, 5, 7, 9, 10): "mixolydian",
    (0, 2, 3, 5, 7, 9, 10): "dorian",
    (0, 1, 3, 5, 7, 8, 10): "phrygian",
    (0, 1, 3, 5, 6, 8, 10): "locrian",
}  # fmt: skip


def choices(
    key: Key, palette: Palette, in_section: Iterable[int], in_bar: Iterable[int]
) -> tuple[Chord, ...]:
    """The chords to choose from in a bar, given the pitch classes of its section and its own.

    The full palette holds the triads of the mode, the dominant with a raised seventh where
    the section has that note, and triads of which a foreign note is heard in the bar; the
    plain one three or four of the mode, the raised dominant in the place of another.
    """
    scale = frozenset(key.scale)
    leading = (key.tonic - 1) % 12
    raised = leading not in scale and leading in in_section
    foreign = frozenset(in_bar) - scale if palette is Palette.FULL else frozenset()
    return _choices(key, palette, raised, foreign)


@lru_cache(maxsize=1024)
def _choices(
    key: Key, palette: Palette, raised: bool, foreign: frozenset[int]
) -> tuple[Chord, ...]:
    dominant = (_triad_on((key.tonic + 7) % 12, "major", key),) if raised else ()
    if palette is Palette.PLAIN:
        degrees = _PLAIN[mode_of(key)]
        return tuple(triad(key, degree) for degree in degrees[: 4 - raised]) + dominant
    own = tuple(triad(key, degree) for degree in range(1, 8))
    asked_for = _with_foreign(key, foreign)
    return tuple(dict.fromkeys(own + dominant + asked_for))


def _with_foreign(key: Key, foreign: frozenset[int]) -> tuple[Chord, ...]:
    """Triads of which a note is foreign to the key, the others not more so than those heard."""
    at_hand = frozenset(key.scale) | foreign
    return tuple(
        _triad_on(root, kind, key)
        for root in range(12)
        for kind, steps in (("major", (0, 4, 7)), ("minor", (0, 3, 7)))
        if (tones := {(root + step) % 12 for step in steps}) <= at_hand and tones & foreign
    )


def _triad_on(root: int, kind: str, key: Key) -> Chord:
    return Chord(*spell_class(root, key), kind)


def closing(key: Key, ends: Sequence[int], among: Iterable[Chord]) -> tuple[Chord, ...]:
    """Of these chords, the ones on which a section may end that comes to rest on one of the
    notes (pitch classes).

    On its key note alone it ends on the key's chord (so 1,095 of 1,137 sections of the
    Nottingham Music Database); else on those on the first, fourth and fifth degree, or the
    mode's equivalents, that hold one of the notes; on all of the chords where there is none
    such.
    """
    among = tuple(among)
    if tuple(ends) == (key.tonic,) and (tonic := triad(key, 1)) in among:
        return (tonic,)
    roots = {key.scale[degree - 1] for degree in _CLOSING[mode_of(key)]}
    fitting = [
        chord
        for chord in among
        if chord.root in roots and not set(ends).isdisjoint(chord.pitch_classes)
    ]
    return tuple(fitting) or among


@lru_cache(maxsize=4096)
def label(chord: Chord, key: Key) -> str:
    """The Roman numeral of a triad in a key, counted from the major scale of its tonic.

    >>> from backing.music.key import parse_key
    >>> label(Chord("F"), parse_key("G")), label(Chord("E", 0, "minor"), parse_key("G"))
    ('bVII', 'vi')
    """
    steps = (chord.root - key.tonic) % 12
    flat, numeral = ("b", "V") if (steps, chord.kind) == (6, "major") else _NUMERALS[steps]
    if chord.kind == "diminished":
        return f"{flat}{numeral.lower()}°"
    return flat + (numeral.lower() if chord.kind == "minor" else numeral)


_NUMERALS = (
    ("", "I"), ("b", "II"), ("", "II"), ("b", "III"), ("", "III"), ("", "IV"),
    ("#", "IV"), ("", "V"), ("b", "VI"), ("", "VI"), ("b", "VII"), ("", "VII"),
)  # fmt: skip
