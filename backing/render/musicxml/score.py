"""A score: its head, its parts, bar by bar."""

from collections.abc import Sequence
from fractions import Fraction
from math import lcm
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from backing.music.key import Key
from backing.music.metre import Metre
from backing.music.tune import Bar, Jump, Note, Tune, Voice
from backing.render.musicxml.elements import add, pieces_of
from backing.render.musicxml.marks import jump_of, marks_of, words_of
from backing.render.musicxml.notes import NoteWriter, Printed, is_low

_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN"'
    ' "http://www.musicxml.org/dtds/partwise.dtd">\n'
)
_STYLES = {"||": "light-light", "|]": "light-heavy", "[|": "heavy-light"}
_SYMBOLS = {"C": "common", "C|": "cut"}


def render_musicxml(tune: Tune) -> str:
    """A tune as a MusicXML 4.0 score, as it is written: every voice is a part.

    The text is the same whenever and wherever it is made.  Kept are notes, repeats,
    endings, jumps, pickups, chord symbols, lyrics, ties, slurs, tuplets, grace notes,
    signs, tempo, swing, key, metre, titles, composers, dance and order of sections.  A
    length that no single note has is written as tied ones; further text fields and the
    words of a key beyond its signature are not written.  Raises BackingError where music21
    is not installed.

    >>> from backing.parse.abc import parse_abc
    >>> text = render_musicxml(parse_abc("X:1\\nT:Gate\\nM:2/4\\nK:C\\nC4 D4:|"))
    >>> "<work-title>Gate</work-title>" in text, 'direction="backward"' in text
    (True, True)
    """
    root = Element("score-partwise", {"version": "4.0"})
    _write_head(root, tune)
    divisions = _divisions(tune)
    for index, voice in enumerate(tune.voices):
        part = SubElement(root, "part", {"id": f"P{index + 1}"})
        _write_part(part, tune, voice, divisions)
    indent(root)
    return _HEAD + tostring(root, encoding="unicode") + "\n"


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
    lengths = {
        length * 4
        for voice in tune.voices
        for bar in voice.bars
        for note in bar
        for piece in pieces_of(note)
        for length in (note.onset, piece.length)
    }
    lengths |= {chord.onset * 4 for bar in tune.bars for chord in bar.chords}
    lengths |= {mark.onset * 4 for bar in tune.bars for mark in bar.tempos}
    return lcm(*(length.denominator for length in lengths)) if lengths else 1


# -- parts and bars -------------------------------------------------------------


def _write_part(part: Element, tune: Tune, voice: Voice, divisions: int) -> None:
    rows = NoteWriter().write(tune, voice)
    leads = voice is tune.voices[0]
    implied = _implied_starts(tune.bars)
    unfinished: set[int] = set()
    suffix = asked = 0
    for index, (bar, row) in enumerate(zip(tune.bars, rows, strict=True)):
        asked = bar.opens_repeat or asked
        suffix += 1 if bar.pickup and index else 0
        number = f"X{suffix}" if bar.pickup and index else str(bar.number)
        measure = SubElement(part, "measure", {"number": number})
        if bar.pickup:
            measure.set("implicit", "yes")
        before = tune.bars[index - 1] if index else None
        _left_bar_line(measure, bar, before)
        _attributes(measure, bar, before, divisions, low=is_low(voice))
        marks = marks_of(tune, index, index in implied) if leads else []
        _write_notes(measure, row, [*marks, *words_of(voice.bars[index])], divisions, unfinished)
        if leads:
            for jump in bar.jumps:
                if jump not in (Jump.SEGNO, Jump.CODA):
                    measure.append(jump_of(jump, tune.bars))
        following = tune.bars[index + 1] if index + 1 < len(tune.bars) else None
        _right_bar_line(measure, bar, following, max(asked, bar.plays))
        asked = 0 if bar.plays else asked


def _implied_starts(bars: Sequence[Bar]) -> set[int]:
    """The bars, beyond the first, to which a repeat goes back though no sign stands there."""
    implied: set[int] = set()
    at, opened = 0, False
    for index, bar in enumerate(bars):
        if bar.opens_repeat:
            at, opened = index, True
        if bar.plays and not opened and at:
            implied.add(at)
        following = bars[index + 1] if index + 1 < len(bars) else None
        goes_on = following is not None and following.ending is not None and (
            bar.ending is None or min(following.ending.numbers) > min(bar.ending.numbers)
            or not following.ending.first
        )  # fmt: skip
        if not goes_on and (bar.plays or bar.ending or (not opened and bar.close in _STYLES)):
            at, opened = index + 1, False
    return implied


def _left_bar_line(measure: Element, bar: Bar, before: Bar | None) -> None:
    starts = bar.ending is not None and (bar.ending.first or before is None or not before.ending)
    if not starts and not bar.opens_repeat:
        return
    line = SubElement(measure, "barline", {"location": "left"})
    if bar.opens_repeat:
        add(line, "bar-style", "heavy-light")
    if starts:
        SubElement(line, "ending", {"number": str(bar.ending), "type": "start"})
    if bar.opens_repeat:
        SubElement(line, "repeat", {"direction": "forward"})


def _right_bar_line(measure: Element, bar: Bar, following: Bar | None, plays: int) -> None:
    after = following.ending if following is not None else None
    stops = bar.ending is not None and (after is None or after.first)
    style = "light-heavy" if bar.plays else _STYLES.get(bar.close, "")
    if not stops and not style:
        return
    line = SubElement(measure, "barline", {"location": "right"})
    if style:
        add(line, "bar-style", style)
    if stops:
        sort = "stop" if style else "discontinue"
        SubElement(line, "ending", {"number": str(bar.ending), "type": sort})
    if bar.plays:
        repeat = SubElement(line, "repeat", {"direction": "backward"})
        if plays != 2 and bar.ending is None:
            repeat.set("times", str(plays))


def _attributes(
    measure: Element, bar: Bar, before: Bar | None, divisions: int, *, low: bool
) -> None:
    """Divisions and clef at the start, key and metre where they change."""
    attributes = Element("attributes")
    if before is None:
        add(attributes, "divisions", divisions)
    if before is None or before.key != bar.key:
        _write_key(SubElement(attributes, "key"), bar.key)
    if before is None or before.metre != bar.metre:
        _write_metre(SubElement(attributes, "time"), bar.metre)
    if before is None:
        clef = SubElement(attributes, "clef")
        add(clef, "sign", "F" if low else "G")
        add(clef, "line", 4 if low else 2)
    if len(attributes):
        measure.append(attributes)


def _write_key(element: Element, key: Key) -> None:
    """Sharps or flats and the mode; single letters where the signature is of no mode."""
    if key.changes or key.explicit or abs(key.fifths) > 7:
        for letter, alter in key.signature.items():
            add(element, "key-step", letter)
            add(element, "key-alter", alter)
        if not key.signature:
            add(element, "fifths", 0)
        return
    add(element, "fifths", key.fifths)
    add(element, "mode", "mixolydian" if key.mode == "pipes" else key.mode)


def _write_metre(element: Element, metre: Metre) -> None:
    if metre.free:
        element.set("print-object", "no")
        SubElement(element, "senza-misura")
        return
    if metre.written in _SYMBOLS:
        element.set("symbol", _SYMBOLS[metre.written])
    grouping = metre.written.partition(")")[0].strip("( ") if "+" in metre.written else ""
    add(element, "beats", grouping.replace(" ", "") or metre.count)
    add(element, "beat-type", metre.unit)


def _write_notes(
    measure: Element,
    row: list[tuple[Element, Printed | None]],
    marks: list[tuple[Fraction, Element]],
    divisions: int,
    unfinished: set[int],
) -> None:
    """The notes of a bar, each mark before the note that it stands at or in."""
    waiting = sorted(marks, key=lambda mark: mark[0])
    at = Fraction(0)
    for element, printed in row:
        chord = element.find("chord") is not None
        length = printed.piece.length if printed is not None and not chord else Fraction(0)
        while waiting and not chord and waiting[0][0] < at + max(length, Fraction(1, 10**6)):
            _place(measure, *waiting.pop(0), at, divisions)
        _voice(element)
        if printed is not None:
            _finish(element, printed, divisions)
            if printed.first and not chord:
                _lyrics(element, printed.note, unfinished)
        measure.append(element)
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


def _voice(element: Element) -> None:
    """The voice of a note: every part has one."""
    before = {"grace", "chord", "pitch", "rest", "duration", "tie"}
    place = sum(child.tag in before for child in element)
    voice = Element("voice")
    voice.text = "1"
    element.insert(place, voice)


def _finish(element: Element, printed: Printed, divisions: int) -> None:
    """The exact duration; no type where no printed note lasts as long."""
    duration = element.find("duration")
    if duration is not None:
        duration.text = str(printed.piece.length * 4 * divisions)
    if not printed.piece.type:
        for tag in ("type", "dot", "beam"):
            for child in element.findall(tag):
                element.remove(child)
        rest = element.find("rest")
        if rest is not None:
            rest.set("measure", "yes")


def _lyrics(element: Element, note: Note, unfinished: set[int]) -> None:
    """The syllables of a note, verse by verse; "_" is a syllable that is held.

    `unfinished` are the verses in which a word goes on.
    """
    for verse, syllable in enumerate(note.lyrics, 1):
        if not syllable:
            continue
        lyric = SubElement(element, "lyric", {"number": str(verse)})
        if syllable == "_":
            SubElement(lyric, "extend")
            continue
        goes_on = len(syllable) > 1 and syllable.endswith("-")
        within = verse in unfinished
        unfinished.discard(verse)
        if goes_on:
            unfinished.add(verse)
        sorts = {(False, False): "single", (False, True): "begin", (True, True): "middle"}
        add(lyric, "syllabic", sorts.get((within, goes_on), "end"))
        add(lyric, "text", syllable[:-1] if goes_on else syllable)
