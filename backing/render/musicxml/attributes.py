"""What is written at the start of a bar: divisions, key, metre, clef."""

from xml.etree.ElementTree import Element, SubElement

from backing.music.key import Key
from backing.music.metre import Metre
from backing.music.tune import Bar, Voice
from backing.render.musicxml.elements import add

_SYMBOLS = {"C": "common", "C|": "cut"}


def is_low(voice: Voice) -> bool:
    """True where a voice lies in the bass clef."""
    keys = [note.pitches[0].midi for bar in voice.bars for note in bar if note.pitches]
    return bool(keys) and sum(keys) < 55 * len(keys)


def write_attributes(
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
