"""One voice's notes as ABC: what hangs on them, which signs a bar needs, where tuplets open."""

from collections.abc import Collection, Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.music.key import Key
from backing.music.pitch import Pitch
from backing.music.tonality import spell
from backing.music.tune import Note, Tuplet
from backing.render.abc_text import escape_text, in_units, write_decoration

SIGNS = {2: "^^", 1: "^", 0: "=", -1: "_", -2: "__"}
#: The most notes in one tuplet that a reader takes.
_MOST_IN_TUPLET = 64


class NoteNumber(NamedTuple):
    """A note by the index of its bar and its place in it."""

    bar: int
    place: int


def tuplet_sizes(
    bars: Sequence[Sequence[Note]], apart: Collection[int] = ()
) -> dict[NoteNumber, int]:
    """How many notes each tuplet has, by the note that opens it.

    A tuplet opens anew where something else stands between, and after bars that are written
    `apart` from the next, since a second voice stands there.
    """
    sizes: dict[NoteNumber, int] = {}
    opened: NoteNumber | None = None
    before: Tuplet | None = None
    for index, notes in enumerate(bars):
        for place, note in enumerate(notes):
            group = note.tuplet
            if group is None or not _writable(group):
                opened = None
                continue
            same = opened is not None and before is not None and before[:2] == group[:2]
            if opened is None or not same or group.first or sizes[opened] == _MOST_IN_TUPLET:
                opened = NoteNumber(index, place)
                sizes[opened] = 0
            sizes[opened] += 1
            before = group
        if index in apart:
            opened = None
    return sizes


def _writable(group: Tuplet) -> bool:
    return 2 <= group.notes <= 99 and 1 <= group.normal <= 64


def struck_at(notes: Sequence[Note], places: Collection[Fraction]) -> tuple[Note, ...]:
    """The notes of a bar, those cut in two, and tied, in which one of these places lies."""
    missing = set(places).difference(note.onset for note in notes)
    cuts = sorted(missing, reverse=True)
    found: list[Note] = []
    for note in notes:
        rest = note
        while cuts and cuts[-1] < rest.onset + rest.length:
            cut = cuts.pop()
            if cut > rest.onset:
                found.append(rest._replace(length=cut - rest.onset, ties=rest.pitches, closes=0))
                rest = _second_half(rest, cut)
        found.append(rest)
    return tuple(found)


def _second_half(note: Note, cut: Fraction) -> Note:
    return Note(
        cut,
        note.onset + note.length - cut,
        note.pitches,
        note.ties,
        note.tuplet and note.tuplet._replace(first=False),
        closes=note.closes,
        hidden=note.hidden,
        source=note.source,
    )


class BarSpelling:
    """Which signs a bar needs: the key's, those written, and what a tie holds over."""

    def __init__(self, key: Key) -> None:
        self.key = key
        self.signature = key.signature
        self.written: dict[tuple[str, int], int] = {}
        self.ties: tuple[Pitch, ...] = ()

    def spell(self, pitch: Pitch, *, alone: bool = False) -> str:
        """The pitch as ABC writes it at this point of the bar; a sign that stands `alone`
        holds for its note only (draft 2.2, clause 4.14)."""
        if pitch.alter not in SIGNS:
            pitch = spell(pitch.midi, self.key)
        place = (pitch.step, pitch.octave)
        tied = next((t for t in self.ties if (t.step, t.octave) == place), None)
        known = self.written.get(place, self.signature.get(pitch.step, 0))
        expected = tied.alter if tied is not None else known
        sign = ""
        if pitch.alter != expected:
            sign = SIGNS[pitch.alter]
            if not alone:
                self.written[place] = pitch.alter
        return sign + _letter(pitch)


def _letter(pitch: Pitch) -> str:
    if pitch.octave >= 5:
        return pitch.step.lower() + "'" * (pitch.octave - 5)
    return pitch.step + "," * (4 - pitch.octave)


def write_note(note: Note, unit: Fraction, spelling: BarSpelling) -> str:
    """A note or rest with all that hangs on it (order: clause 4.20)."""
    parts = []
    if note.graces:
        inside = "".join(
            _heads(grace.pitches, (), spelling) + in_units(grace.length) for grace in note.graces
        )
        parts.append("{" + "/" * note.slashed + inside + "}")
    parts += [f'"{escape_text(text)}"' for text in note.texts]
    parts += [write_decoration(name) for name in note.decorations]
    parts.append("(" * note.opens)
    written = note.length
    if note.tuplet is not None and _writable(note.tuplet):
        written = written * note.tuplet.notes / note.tuplet.normal
    size = in_units(written / unit)
    if note.rest:
        parts.append(("x" if note.hidden else "z") + size)
    else:
        whole = note.ties == note.pitches
        ties = () if whole else note.ties
        alone = "editorial" in note.decorations
        parts.append(_heads(note.pitches, ties, spelling, alone=alone) + size)
        parts.append("-" if whole else "")
    spelling.ties = ()
    parts.append(")" * note.closes)
    return "".join(parts)


def _heads(
    pitches: tuple[Pitch, ...],
    ties: tuple[Pitch, ...],
    spelling: BarSpelling,
    *,
    alone: bool = False,
) -> str:
    spelled = [
        spelling.spell(pitch, alone=alone) + ("-" if pitch in ties else "") for pitch in pitches
    ]
    return spelled[0] if len(spelled) == 1 and not ties else f"[{''.join(spelled)}]"
