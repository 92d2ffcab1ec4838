"""Chord symbols: the `harmony` element of MusicXML 4.0."""

from fractions import Fraction
from xml.etree.ElementTree import Element

from backing.music.chord import KINDS, NO_CHORD, Chord
from backing.music.pitch import SEMITONES, name_of, pitch_of
from backing.music.transpose import Interval, move_chord, move_pitch
from backing.music.tune import ChordSymbol
from backing.parse.musicxml.words import Remarks, bounded_number, text_of

#: Semitones above the root, MusicXML 4.0 "kind-value", of the kinds that `KINDS` lacks.
_MORE_KINDS = {
    "major-11th": (0, 4, 7, 11, 2, 5),
    "minor-11th": (0, 3, 7, 10, 2, 5),
    "major-13th": (0, 4, 7, 11, 2, 9),
    "minor-13th": (0, 3, 7, 10, 2, 9),
}
#: Semitones above the root of the degrees of a dominant chord (element `degree-value`).
_DEGREES = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 10, 9: 2, 10: 4, 11: 5, 12: 7, 13: 9}
#: By degree, the semitones that a chord may hold there.
_PLACES = {
    1: (0,), 2: (2, 1, 3), 3: (3, 4), 4: (5, 6), 5: (6, 7, 8), 6: (9, 8), 7: (9, 10, 11),
    9: (2, 1, 3), 10: (3, 4), 11: (5, 6), 12: (6, 7, 8), 13: (9, 8),
}  # fmt: skip


def read_harmony(
    element: Element, onset: Fraction, shift: Interval, where: str, remarks: Remarks
) -> ChordSymbol | str:
    """A chord symbol as it sounds, or only its text where it is no chord that we know."""
    kind = element.find("kind")
    name = text_of(kind)
    shown = kind.get("text") if kind is not None else None
    if name == "none":
        return ChordSymbol(onset, NO_CHORD, shown or "N.C.")
    root = _note_name(element, "root")
    if root is None or kind is None:
        text = shown or text_of(element, "function") or name
        remarks.add(where, f"a chord symbol {text!r} without a root", "kept as a text")
        return text
    steps = _steps(name, element)
    text = _text(root, name, shown, element)
    if steps is None:
        remarks.add(
            where,
            f"{text!r} is not a chord that can be played (kind {name[:30]!r})",
            "kept as a text; the left hand goes on with the chord before",
        )
        return text
    nearest = _nearest(name, steps)
    if frozenset(KINDS[nearest]) != steps:
        remarks.add(where, f"{text!r} is played as {Chord(*root, nearest)}", "the nearest chord")
    chord = Chord(*root, nearest, _bass(element, root, nearest))
    if not shift.unison:
        chord = move_chord(chord, shift)
        text = str(chord)
    return ChordSymbol(onset, chord, text if shown is not None else str(chord))


def _note_name(element: Element, tag: str) -> tuple[str, int] | None:
    step = text_of(element, f"{tag}/{tag}-step")
    if step not in SEMITONES:
        return None
    alter = text_of(element, f"{tag}/{tag}-alter")
    return step, bounded_number(alter, -2, 2) if alter else 0


def _bass(element: Element, root: tuple[str, int], kind: str) -> tuple[str, int] | None:
    """The lowest note where it is not the root: as written, or by the inversion."""
    bass = _note_name(element, "bass")
    inversion = text_of(element, "inversion")
    if bass is None and inversion in ("1", "2"):
        places, steps = ((3, 4), 2) if inversion == "1" else ((6, 7, 8), 4)
        semitones = next((step for step in KINDS[kind] if step in places), None)
        if semitones is not None:
            moved = move_pitch(pitch_of(*root, 4), Interval(steps, semitones))
            bass = moved.step, moved.alter
    return None if bass == root else bass


def _steps(name: str, element: Element) -> frozenset[int] | None:
    """Semitones above the root of a kind with its degrees; None for a kind without any.

    A degree that is added counts from a dominant chord, one that is altered from the
    chord's own note (element `degree-alter`).
    """
    known = KINDS.get(name) or _MORE_KINDS.get(name)
    if known is None:
        return None
    steps = set(known)
    for degree in element.findall("degree"):
        value = bounded_number(text_of(degree, "degree-value"), 1, 13)
        alter = bounded_number(text_of(degree, "degree-alter") or "0", -3, 3)
        sort = text_of(degree, "degree-type")
        held = next((step for step in _PLACES.get(value, ()) if step in steps), None)
        if sort in ("alter", "subtract") and held is not None:
            steps.discard(held)
        if sort != "subtract" and value in _DEGREES:
            own = held if sort == "alter" and held is not None else _DEGREES[value]
            steps.add((own + alter) % 12)
    return frozenset(steps)


def _nearest(name: str, steps: frozenset[int]) -> str:
    """The kind of ours that holds these notes, or shares most of them."""

    def distance(kind: str) -> tuple[int, int, bool]:
        own = frozenset(KINDS[kind])
        return len(own ^ steps), len(own - steps), kind != name

    return min(KINDS, key=distance)


def _text(root: tuple[str, int], name: str, shown: str | None, element: Element) -> str:
    """The symbol as it is printed."""
    signs = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}
    text = name_of(*root) + (shown if shown is not None else _word(name))
    for degree in element.findall("degree"):
        if degree.get("print-object") == "no":
            continue
        alter = bounded_number(text_of(degree, "degree-alter") or "0", -3, 3)
        before = {"add": "add", "subtract": "no"}.get(text_of(degree, "degree-type"), "")
        text += f"{before}{signs.get(alter, '')}{text_of(degree, 'degree-value')}"
    bass = _note_name(element, "bass")
    return text + (f"/{name_of(*bass)}" if bass else "")


def _word(name: str) -> str:
    return str(Chord("C", 0, name))[1:] if name in KINDS else f" {name}"
