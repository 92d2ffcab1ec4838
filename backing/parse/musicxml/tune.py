"""One MusicXML score: its parts, the voice that is the melody, and the value they make."""

from bisect import bisect_left
from dataclasses import dataclass, replace
from fractions import Fraction
from xml.etree.ElementTree import Element

from backing.errors import Notice, TuneError, did_you_mean
from backing.music.form import form_of, odd_lengths
from backing.music.key import NO_KEY
from backing.music.metre import FREE
from backing.music.tempo import Tempo
from backing.music.tune import UNTITLED, Bar, Note, Tune, Voice
from backing.parse.draft import with_groups_opened
from backing.parse.musicxml.frame import Draft, Frame
from backing.parse.musicxml.notes import read_line
from backing.parse.musicxml.parts import LineKey, Part, elements_of, read_parts
from backing.parse.musicxml.safe import read_root
from backing.parse.musicxml.words import Remarks, text_of

_MOST_TITLE = 200
_MOST_BARS = 400_000
_MOST_LINES = 100


@dataclass(frozen=True, slots=True)
class _PartLine:
    """A line of a part, and the name that it goes by."""

    name: str
    part: Part
    key: LineKey


def parse_musicxml(data: bytes, *, part: str = "") -> Tune:
    """A tune from a MusicXML score, text or compressed; `part` names the part that is the
    melody, else it is the highest voice of the first part that has notes.

    Read are MusicXML 4.0 scores, by parts or by measures, of at most 32 MB, 20,000 bars,
    20,000 notes and 100 voices.
    Parts for transposing instruments are read as they sound.  Raises TuneError for a file
    that is broken, too large or no score, for a part that is not there, and for what cannot
    be played, with part and bar.  What is odd but playable is a notice on the tune.

    >>> parse_musicxml(b"<score-partwise><part>")
    Traceback (most recent call last):
    ...
    backing.errors.TuneError: the XML is broken: no element found
    """
    root = read_root(data)
    remarks = Remarks()
    parts = read_parts(root, remarks)
    lines = _lines(parts)
    if not lines:
        raise TuneError("there are no notes in this score")
    melody = lines.pop(_choose(parts, lines, part))
    _say_choice(melody, lines, part, remarks)
    frame = Frame([melody.part, *(p for p in parts if p is not melody.part)], remarks)
    drafts = frame.read()
    _say_lengths(parts, melody.part, remarks)
    bars = [draft.bar(place) for draft, place in zip(drafts, form_of(drafts), strict=True)]
    voices = [_voice(line, drafts, remarks) for line in (melody, *lines)]
    voices[0] = _with_texts(voices[0], drafts)
    tempo = _head_tempo(bars)
    odd = [
        notice._replace(message=f"part {melody.part.name}, {notice.message}")
        for notice in odd_lengths(bars)
    ]
    titles = _titles(root)
    return Tune(
        title=titles[0] if titles else UNTITLED,
        bars=tuple(bars),
        voices=tuple(voices),
        composers=_composers(root),
        dance=_kept(root, "dance"),
        metre=bars[0].metre if bars else FREE,
        key=bars[0].key if bars else NO_KEY,
        unit_length=_unit_length(bars[0]),
        tempo=tempo,
        swing=frame.swing,
        order=tuple(_kept(root, "order").split()),
        titles=titles,
        notices=(*remarks.notices, *odd),
    )


# -- which line is the melody ---------------------------------------------------


def _lines(parts: list[Part]) -> list[_PartLine]:
    """Every line that has notes, top down, with a name of its own."""
    bars = max((len(part.measures) for part in parts), default=0)
    if len(parts) * bars > _MOST_BARS or sum(len(p.keys) * bars for p in parts) > _MOST_BARS:
        raise TuneError(
            f"all voices together have more than {_MOST_BARS:,} bars", "export fewer parts"
        )
    lines: list[_PartLine] = []
    for part in parts:
        keys = [key for key in part.keys if _pitched(part, key)]
        if len(lines) + len(keys) > _MOST_LINES:
            raise TuneError(f"there are more than {_MOST_LINES} voices", "export fewer parts")
        for number, key in enumerate(keys, 1):
            lines.append(
                _PartLine(part.name if number == 1 else f"{part.name} &{number}", part, key)
            )
    return lines


def _pitched(part: Part, key: LineKey) -> list[int]:
    """How high the notes of a line lie, in steps: the first of each group."""
    steps = "CDEFGAB"
    return [
        7 * int(text_of(note, "pitch/octave")) + steps.index(text_of(note, "pitch/step"))
        for measure in part.measures
        for group in measure.lines.get(key, [])
        for note in group.elements[:1]
        if note.find("pitch") is not None and note.find("cue") is None
    ]


def _choose(parts: list[Part], lines: list[_PartLine], wanted: str) -> int:
    """The index of the melody: the named line or part, else the first part's highest line."""
    part = lines[0].part
    if wanted:
        asked = wanted.strip().lower()
        for index, line in enumerate(lines):
            if line.name.lower() == asked:
                return index
        named = [line.part for line in lines if asked == line.part.id.lower()]
        if not named:
            known = [line.name for line in lines]
            raise TuneError(
                f"there is no part {wanted!r} with notes",
                did_you_mean(wanted, known) or f"the parts are {', '.join(known[:20])}",
            )
        part = named[0]
    top = min(line.key[0] for line in lines if line.part is part)
    heights = {
        index: _pitched(part, line.key)
        for index, line in enumerate(lines)
        if line.part is part and line.key[0] == top
    }
    fullest = max(len(steps) for steps in heights.values())
    full = {index: steps for index, steps in heights.items() if 2 * len(steps) >= fullest}
    return max(full, key=lambda index: (sum(full[index]) / len(full[index]), -index))


def _say_choice(melody: _PartLine, others: list[_PartLine], wanted: str, remarks: Remarks) -> None:
    if others and not wanted:
        names = ", ".join(line.name for line in others[:20])
        remarks.notices.append(
            Notice(
                f"several parts or voices; the melody is {melody.name}",
                f"the others are kept: {names}",
            )
        )


def _say_lengths(parts: list[Part], melody: Part, remarks: Remarks) -> None:
    for part in parts:
        if len(part.measures) != len(melody.measures):
            remarks.add(
                f"part {part.name}",
                f"{len(part.measures)} bars, part {melody.name} has {len(melody.measures)}",
                "it is cut or filled up with rests",
            )
    for tag, what in (("measure-repeat", "signs that repeat a bar"), ("slash", "slash notation")):
        for part in parts:
            found = elements_of(part.measures, "attributes")
            if any(element.find(f"measure-style/{tag}") is not None for element in found):
                remarks.add(f"part {part.name}", what, "the notes are played as they are written")


# -- voices ---------------------------------------------------------------------


def _voice(line: _PartLine, drafts: list[Draft], remarks: Remarks) -> Voice:
    measures = read_line(line.part, line.key, remarks)
    return Voice(
        line.name,
        with_groups_opened(
            _filled(
                [
                    note._replace(onset=note.onset + start)
                    for index, start in zip(draft.measures, draft.starts, strict=True)
                    if index < len(measures)
                    for note in measures[index]
                ],
                draft.length,
            )
            for draft in drafts
        ),
    )


def _filled(notes: list[Note], length: Fraction) -> tuple[Note, ...]:
    """The notes of a bar, with a rest that is not printed wherever nothing is written; one
    inside a tuplet belongs to it."""
    filled: list[Note] = []
    at = Fraction(0)
    for note in notes:
        if note.onset > at:
            inside = note.tuplet if note.tuplet is not None and not note.tuplet.first else None
            filled.append(Note(at, note.onset - at, tuplet=inside, hidden=True))
        filled.append(note)
        at = note.onset + note.length
    if at < length:
        filled.append(Note(at, length - at, hidden=True))
    return tuple(filled)


def _with_texts(voice: Voice, drafts: list[Draft]) -> Voice:
    """The melody with the words and signs that stand above it, each at its note."""
    bars = []
    for notes, draft in zip(voice.bars, drafts, strict=True):
        row = list(notes)
        for index, texts in _by_note(row, draft.texts).items():
            row[index] = row[index]._replace(texts=(*row[index].texts, *texts))
        for index, signs in _by_note(row, draft.signs).items():
            row[index] = row[index]._replace(decorations=(*row[index].decorations, *signs))
        bars.append(tuple(row))
    return Voice(voice.name, tuple(bars))


def _by_note(notes: list[Note], placed: list[tuple[Fraction, str]]) -> dict[int, list[str]]:
    """What stands at places of a bar, by the index of the first note from there on, else of
    the last."""
    found: dict[int, list[str]] = {}
    for onset, text in placed:
        index = bisect_left(notes, onset, key=lambda note: note.onset)
        found.setdefault(min(index, len(notes) - 1), []).append(text)
    return found


# -- what stands above the tune -------------------------------------------------


def _head_tempo(bars: list[Bar]) -> Tempo | None:
    """The tempo at the very start, taken out of its bar."""
    if not bars or not bars[0].tempos or bars[0].tempos[0].onset:
        return None
    mark, *later = bars[0].tempos
    bars[0] = replace(bars[0], tempos=tuple(later))
    return mark.tempo


def _unit_length(bar: Bar) -> Fraction:
    """The unit that the tune would be counted in as ABC (ABC 2.1 clause 3.1.7)."""
    short = not bar.metre.free and bar.metre.length < Fraction(3, 4)
    return Fraction(1, 16) if short and not bar.metre.written else Fraction(1, 8)


def _titles(root: Element) -> tuple[str, ...]:
    """The titles: of the work, of the movement, else the first words that are credited so."""
    found = [text_of(root, "work/work-title"), text_of(root, "movement-title")]
    if not any(found):
        found = [
            text_of(credit, "credit-words")
            for credit in root.findall("credit")
            if text_of(credit, "credit-type") == "title"
        ]
    return tuple(dict.fromkeys(" ".join(title.split())[:_MOST_TITLE] for title in found if title))


def _composers(root: Element) -> tuple[str, ...]:
    return tuple(
        text[:_MOST_TITLE]
        for creator in root.findall("identification/creator")
        if creator.get("type") == "composer" and (text := " ".join(text_of(creator).split()))
    )


def _kept(root: Element, name: str) -> str:
    """What we keep in a field of our own, where the score has it."""
    for element in root.findall("identification/miscellaneous/miscellaneous-field"):
        if element.get("name") == name:
            return " ".join(text_of(element).split())[:_MOST_TITLE]
    return ""
