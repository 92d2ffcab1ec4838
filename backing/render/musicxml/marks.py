"""What stands above and below the notes: labels, jumps, tempi, words, chord symbols."""

import re
from collections.abc import Sequence
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement

from backing.music.tempo import Tempo
from backing.music.tune import Bar, ChordSymbol, Jump, Note, Tune
from backing.render.musicxml.decorations import LOUDNESS
from backing.render.musicxml.elements import add, allowed, beat_unit

#: Kinds that MusicXML 4.0 has no name for: a kind and the degree added to it.
_WITH_DEGREE = {"suspended-seventh": ("suspended-fourth", 7), "added-ninth": ("major", 9)}
#: Texts that a reader might obey though they were only written: they get an empty `sound`.
_LIKE_JUMPS = re.compile(r"d\.?\s*[cs]\b|da capo|dal segno|to coda|coda|fine|segno", re.IGNORECASE)


def marks_of(tune: Tune, index: int, implied: bool) -> list[tuple[Fraction, Element]]:
    """What stands above a bar of the first part, each with its place."""
    bar = tune.bars[index]
    start = Fraction(0)
    marks: list[tuple[Fraction, Element]] = []
    if bar.label:
        marks.append((start, _direction("rehearsal", bar.label)))
    marks += [(start, jump_of(j, ())) for j in bar.jumps if j in (Jump.SEGNO, Jump.CODA)]
    if implied:
        marks.append((start, Element("sound", {"forward-repeat": "yes"})))
    if index == 0 and tune.tempo is not None:
        marks.append((start, _tempo(tune.tempo)))
    if index == 0 and tune.swing is not None:
        marks.append((start, _swing(tune.swing)))
    marks += [(mark.onset, _tempo(mark.tempo)) for mark in bar.tempos]
    marks += [(symbol.onset, _harmony(symbol)) for symbol in bar.chords]
    return marks


def words_of(notes: Sequence[Note]) -> list[tuple[Fraction, Element]]:
    """Texts and loudness, which stand above or below notes."""
    words = []
    for note in notes:
        for text in note.texts:
            placement = "below" if text[0] == "_" else "above"
            bare = text[1:] if text[0] in "^_<>@" else text
            if bare.strip():
                direction = _direction("words", bare, placement)
                if _LIKE_JUMPS.match(bare.strip()):
                    SubElement(direction, "sound")
                words.append((note.onset, direction))
        for name in note.decorations:
            if name in LOUDNESS:
                direction = _direction("dynamics", "", "below")
                SubElement(direction[0][0], name)
                words.append((note.onset, direction))
    return words


def _direction(tag: str, text: str, placement: str = "above") -> Element:
    direction = Element("direction", {"placement": placement})
    sign = add(SubElement(direction, "direction-type"), tag, text)
    sign.text = sign.text or None
    return direction


def jump_of(jump: Jump, bars: Sequence[Bar]) -> Element:
    """A jump as it is printed and as it is played (element `sound`)."""
    if jump in (Jump.SEGNO, Jump.CODA):
        direction = _direction(jump.value, "")
        SubElement(direction, "sound", {jump.value: jump.value})
        return direction
    signs = {sign for bar in bars for sign in bar.jumps}
    ending = " al Fine" if Jump.FINE in signs else " al Coda" if Jump.TO_CODA in signs else ""
    words, attribute, value = {
        Jump.DA_CAPO: ("D.C." + ending, "dacapo", "yes"),
        Jump.DAL_SEGNO: ("D.S." + ending, "dalsegno", "segno"),
        Jump.TO_CODA: ("To Coda", "tocoda", "coda"),
        Jump.FINE: ("Fine", "fine", "yes"),
    }[jump]
    direction = _direction("words", words)
    SubElement(direction, "sound", {attribute: value})
    return direction


def _tempo(tempo: Tempo) -> Element:
    """A metronome mark, and the tempo in quarter notes a minute that it means."""
    tempo, kind, dots = beat_unit(tempo)
    direction = _direction("metronome", "")
    metronome = direction[0][0]
    add(metronome, "beat-unit", kind)
    for _ in range(dots):
        SubElement(metronome, "beat-unit-dot")
    add(metronome, "per-minute", _decimal(tempo.beats))
    SubElement(direction, "sound", {"tempo": _decimal(tempo.wholes * 4)})
    return direction


def _decimal(number: Fraction) -> str:
    """A number in decimals, at most nine of them."""
    text = f"{round(number * 10**9):010d}"
    return f"{text[:-9]}.{text[-9:]}".rstrip("0").rstrip(".")


def _swing(ratio: Fraction) -> Element:
    sound = Element("sound")
    swing = SubElement(sound, "swing")
    if ratio == 1:
        SubElement(swing, "straight")
        return sound
    add(swing, "first", ratio.numerator)
    add(swing, "second", ratio.denominator)
    add(swing, "swing-type", "eighth")
    return sound


def _harmony(symbol: ChordSymbol) -> Element:
    """A chord symbol, with its text as it was written."""
    chord = symbol.chord
    harmony = Element("harmony")
    kind, degree = _WITH_DEGREE.get(chord.kind, (chord.kind, 0))
    _name(SubElement(harmony, "root"), "root", (chord.step, chord.alter))
    if chord.silent:
        add(harmony, "kind", "none").set("text", allowed(symbol.text))
        return harmony
    add(harmony, "kind", kind).set("text", allowed(_written_kind(symbol)))
    if chord.bass is not None:
        _name(SubElement(harmony, "bass"), "bass", chord.bass)
    if degree:
        element = SubElement(harmony, "degree", {"print-object": "no"})
        add(element, "degree-value", degree)
        add(element, "degree-alter", 0)
        add(element, "degree-type", "add")
    return harmony


def _written_kind(symbol: ChordSymbol) -> str:
    """The middle of a chord symbol as written: "m7" of "F#m7/C#"."""
    text = symbol.text.strip().partition("/")[0]
    return text[1:].lstrip("#b♯♭♮") if text[:1] == symbol.chord.step else str(symbol.chord)


def _name(element: Element, tag: str, name: tuple[str, int]) -> None:
    add(element, f"{tag}-step", name[0])
    if name[1]:
        add(element, f"{tag}-alter", name[1])
