"""A score: its head, its parts, bar by bar."""

from fractions import Fraction
from math import gcd, lcm
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from backing.music.tune import Jump, Tune, Voice
from backing.render.musicxml.attributes import is_low, write_attributes
from backing.render.musicxml.barlines import implied_starts, left_bar_line, right_bar_line
from backing.render.musicxml.elements import add, pieces_of
from backing.render.musicxml.marks import jump_of, marks_of, words_of
from backing.render.musicxml.notes import WrittenNote, written_rows

_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN"'
    ' "http://www.musicxml.org/dtds/partwise.dtd">\n'
)


def render_musicxml(tune: Tune) -> str:
    """A tune as a MusicXML 4.0 score, as it is written: every voice is a part.

    The text is the same whenever and wherever it is made.  Kept are notes, repeats,
    endings, jumps, pickups, chord symbols, lyrics, ties, slurs, tuplets, grace notes,
    signs, tempo, swing, key, metre, titles, composers, dance and order of sections.  A
    length that no single note has is written as tied ones; further text fields and the
    words of a key beyond its signature are not written.

    >>> from backing.parse.abc import parse_abc
    >>> text = render_musicxml(parse_abc("X:1\\nT:Gate\\nM:2/4\\nK:C\\nC4 D4:|"))
    >>> "<work-title>Gate</work-title>" in text, 'direction="backward"' in text
    (True, True)
    """
    root = score_element(tune)
    indent(root)
    return _HEAD + tostring(root, encoding="unicode") + "\n"


def score_element(tune: Tune) -> Element:
    """The element `score-partwise` of a tune, before it is text."""
    root = Element("score-partwise", {"version": "4.0"})
    _write_head(root, tune)
    divisions = _divisions(tune)
    for index, voice in enumerate(tune.voices):
        part = SubElement(root, "part", {"id": f"P{index + 1}"})
        _write_part(part, tune, voice, divisions)
    return root


# -- the head -------------------------------------------------------------------


def _write_head(root: Element, tune: Tune) -> None:
    titles = tune.titles or (tune.title,)
    add(SubElement(root, "work"), "work-title", titles[0])
    if len(titles) > 1:
        add(root, "movement-title", titles[1])
    fields = [("dance", tune.dance), ("order", " ".join(tune.order))]
    kept = [(name, text) for name, text in fields if text]
    if tune.composers or kept:
        identification = SubElement(root, "identification")
        for composer in tune.composers:
            add(identification, "creator", composer, type="composer")
        if kept:
            miscellaneous = SubElement(identification, "miscellaneous")
            for name, text in kept:
                add(miscellaneous, "miscellaneous-field", text, name=name)
    parts = SubElement(root, "part-list")
    for index, voice in enumerate(tune.voices, 1):
        add(SubElement(parts, "score-part", {"id": f"P{index}"}), "part-name", voice.name)


def _divisions(tune: Tune) -> int:
    """How many parts of a quarter note make every length and place a whole number."""
    lengths = [bar.length for bar in tune.bars]
    lengths += [chord.onset for bar in tune.bars for chord in bar.chords]
    lengths += [mark.onset for bar in tune.bars for mark in bar.tempos]
    for note in (note for voice in tune.voices for bar in voice.bars for note in bar):
        lengths += [note.onset, *(piece.length for piece in pieces_of(note))]
    denominators = {length.denominator for length in lengths}
    return lcm(*(denominator // gcd(denominator, 4) for denominator in denominators))


# -- parts and bars -------------------------------------------------------------


def _write_part(part: Element, tune: Tune, voice: Voice, divisions: int) -> None:
    rows = written_rows(tune, voice, divisions)
    leads, low = voice is tune.voices[0], is_low(voice)
    implied = implied_starts(tune.bars)
    suffix = asked = 0
    for index, (bar, row) in enumerate(zip(tune.bars, rows, strict=True)):
        asked = bar.opens_repeat or asked
        suffix += 1 if bar.pickup and index else 0
        number = f"X{suffix}" if bar.pickup and index else str(bar.number)
        measure = SubElement(part, "measure", {"number": number})
        if bar.pickup:
            measure.set("implicit", "yes")
        before = tune.bars[index - 1] if index else None
        left_bar_line(measure, bar, before)
        write_attributes(measure, bar, before, divisions, low=low)
        marks = marks_of(tune, index, index in implied) if leads else []
        _write_notes(measure, row, [*marks, *words_of(voice.bars[index])], divisions)
        if leads:
            for jump in bar.jumps:
                if jump not in (Jump.SEGNO, Jump.CODA):
                    measure.append(jump_of(jump, tune.bars))
        following = tune.bars[index + 1] if index + 1 < len(tune.bars) else None
        right_bar_line(measure, bar, following, max(asked, bar.plays))
        asked = 0 if bar.plays else asked


def _write_notes(
    measure: Element,
    row: list[WrittenNote],
    marks: list[tuple[Fraction, Element]],
    divisions: int,
) -> None:
    """The notes of a bar, each mark before the note that it stands at or in."""
    waiting = sorted(marks, key=lambda mark: mark[0])
    at = Fraction(0)
    for length, elements in row:
        while waiting and waiting[0][0] < at + length:
            _place(measure, *waiting.pop(0), at, divisions)
        measure.extend(elements)
        at += length
    for onset, mark in waiting:
        _place(measure, onset, mark, at, divisions)


def _place(measure: Element, onset: Fraction, mark: Element, at: Fraction, divisions: int) -> None:
    """Put a mark into the measure, moved by its offset where it stands within a note."""
    if onset != at and mark.tag != "sound":
        offset = Element("offset")
        offset.text = str((onset - at) * 4 * divisions)
        before = [child for child in mark if child.tag == "sound"]
        mark.insert(len(mark) - len(before), offset)
    measure.append(mark)
