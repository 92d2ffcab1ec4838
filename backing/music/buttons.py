"""Which chord button stands for a chord symbol, ranked: the symbol's own, then the next best.

The bass side of a box has major and minor chords, with the thirds out root and fifth; what
else a symbol asks for is made of these and a bass, as players do: a minor seventh is the
major chord a third up over its root ("Am7": A bass, C chord), a major seventh the minor
chord a third up ("Cmaj7": C bass, Em chord), a half-diminished seventh the minor chord a
third up, a diminished chord the major chord a third down ("F#dim": F# bass, D chord); other
sevenths and beyond are their plain triad, a suspended chord root and fifth.  The first two
are common cross-chords of two-row boxes; the others are common practice, no source.

Where that button is not there, the plain triad is next, then a chord that shares two notes,
the relative minor or major first (Em for G, C over an A bass for Am).
"""

from functools import lru_cache
from typing import NamedTuple

from backing.music.chord import KINDS, Chord

#: The button for each kind of chord: semitones above its root, and the kind that it plays.
BUTTONS = {
    "major": (0, "major"), "minor": (0, "minor"),
    "augmented": (0, "major"), "diminished": (8, "major"),
    "dominant": (0, "major"), "major-seventh": (4, "minor"), "minor-seventh": (3, "major"),
    "diminished-seventh": (8, "major"), "augmented-seventh": (0, "major"),
    "half-diminished": (3, "minor"), "major-minor": (0, "minor"),
    "major-sixth": (0, "major"), "minor-sixth": (0, "minor"),
    "dominant-ninth": (0, "major"), "major-ninth": (0, "major"), "minor-ninth": (0, "minor"),
    "dominant-11th": (0, "major"), "dominant-13th": (0, "major"), "added-ninth": (0, "major"),
    "suspended-second": (0, "power"), "suspended-fourth": (0, "power"),
    "suspended-seventh": (0, "power"), "power": (0, "power"),
}  # fmt: skip
_MINOR_THIRD, _MAJOR_THIRD, _FIFTH = 3, 4, 7


class StandIn(NamedTuple):
    """A chord button that can be pressed for a symbol: pitch class of its root, its kind
    ("major", "minor", or "power" for root and fifth).

    `whole`: with the bass it makes the symbol's chord, plain or with its colour; else it is a
    substitute.
    """

    root: int
    kind: str
    whole: bool


@lru_cache(maxsize=1024)
def stand_ins(wanted: Chord, bass: int | None, *, thirds: bool = True) -> tuple[StandIn, ...]:
    """The buttons that can stand for a chord over a bass (a pitch class, None: no bass), the
    best first; `thirds` False for a box whose chords sound root and fifth.

    >>> [(s.root, s.kind, s.whole) for s in stand_ins(Chord("A", 0, "minor-seventh"), 9)][:2]
    [(0, 'major', True), (9, 'minor', True)]
    >>> [(s.root, s.kind, s.whole) for s in stand_ins(Chord("D", 0, "suspended-fourth"), 2)][:2]
    [(2, 'power', True), (2, 'major', False)]
    """
    ranked = [*_own(wanted, thirds=thirds), *_sharing(wanted, bass, thirds=thirds)]
    found = [
        StandIn(root, kind, _whole(wanted, bass, _sounding(root, kind, thirds=thirds)))
        for root, kind in dict.fromkeys(ranked)
    ]
    return tuple(sorted(found, key=lambda one: not one.whole))


def _own(wanted: Chord, *, thirds: bool) -> list[tuple[int, str]]:
    """The buttons made of the symbol itself: its own first, then plain ones on its root."""
    steps = KINDS[wanted.kind]
    up, kind = BUTTONS[wanted.kind]
    first = ((wanted.root + up) % 12, kind)
    perfect = _FIFTH in steps
    if not thirds:
        return [(wanted.root if perfect else first[0], "power")]
    if not perfect:
        return [first]
    triads = [kind for third, kind in ((_MAJOR_THIRD, "major"), (_MINOR_THIRD, "minor"))
              if third in steps]  # fmt: skip
    # Without a third of its own any triad adds one; the major one is heard as the milder.
    plain = triads or ["major", "minor"]
    return [first, *((wanted.root, kind) for kind in plain), (wanted.root, "power")]


def _sharing(wanted: Chord, bass: int | None, *, thirds: bool) -> list[tuple[int, str]]:
    """Triads on other roots that share two notes with the symbol's, those that make most of
    it with the bass first, of these its relative minor or major."""
    steps = KINDS[wanted.kind]
    # Root, third (or what is suspended in its place), fifth.
    need = {(wanted.root + step) % 12 for step in steps[:3]}
    relative = (wanted.root + (3 if _MINOR_THIRD in steps else 9)) % 12
    ranked = []
    for kind in ("major", "minor"):
        for up in range(1, 12):
            root = (wanted.root + up) % 12
            shared = set(_sounding(root, kind, thirds=True)) & need
            heard = {*_sounding(root, kind, thirds=thirds), bass} & need
            if len(shared) > 1 and len(heard) > 1:
                ranked.append((-len(heard), root != relative, kind, up))
    return [((wanted.root + up) % 12, kind) for _, _, kind, up in sorted(ranked)]


def _sounding(root: int, kind: str, *, thirds: bool) -> tuple[int, ...]:
    return tuple((root + step) % 12 for step in KINDS[kind if thirds else "power"])


def _whole(wanted: Chord, bass: int | None, sounding: tuple[int, ...]) -> bool:
    """True where nothing foreign to the symbol sounds, but its fifth, and its root or the
    bass that it asks for."""
    fifth = wanted.degree(5)
    return (
        set(sounding) <= set(wanted.pitch_classes)
        and (fifth in sounding or fifth == bass)
        and (wanted.root in sounding or bass in (wanted.root, wanted.bass_class))
    )
