"""Signs at notes that get lost on their way through MusicXML to the engraver: rolls, turns with
a stroke, slides, trills and changes of loudness over several notes.

MusicXML has no element for a roll or a slide of ABC's kind, and the engraver passes over what it
finds no MEI for; so they are written into the MEI, each at its beat.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple
from xml.etree.ElementTree import Element, SubElement

from backing.music.tune import Bar, Note, Tune

#: Signs that are texts (names of ABC 2.1 clause 4.14): the element, the text, how it looks.  The
#: wave over a note is how tune books print a roll: common practice, no source.
_TEXTS = {
    "roll": ("ornam", "~", {"fontsize": "150%", "fontstyle": "normal"}),
    "+": ("ornam", "+", {"fontsize": "100%", "fontstyle": "normal"}),
    "slide": ("dir", "slide", {"fontsize": "75%", "fontstyle": "italic"}),
}
#: Turns with a stroke (SMuFL 1.4, "Common ornaments"): one glyph, and where there is none that
#: without the stroke.
_TURNS = {"turnx": "U+E569", "invertedturnx": "U+E568"}
#: What opens and closes signs over several notes: the element that they become.
_SPANS = {
    "<": ("hairpin", {"form": "cres", "place": "below"}),
    "crescendo": ("hairpin", {"form": "cres", "place": "below"}),
    ">": ("hairpin", {"form": "dim", "place": "below"}),
    "diminuendo": ("hairpin", {"form": "dim", "place": "below"}),
    "trill": ("trill", {"place": "above"}),
}


class _Open(NamedTuple):
    """A sign that has been opened: in which bar, and where in it."""

    bar: int
    onset: Fraction


def note_signs(tune: Tune) -> Iterator[tuple[int, Element]]:
    """The signs as elements of MEI, each with the index of the bar that it begins in."""
    for staff, voice in enumerate(tune.voices, 1):
        for index, element in _signs(voice.bars, tune.bars):
            element.set("staff", str(staff))
            yield index, element


def _signs(rows: Sequence[Sequence[Note]], bars: Sequence[Bar]) -> Iterator[tuple[int, Element]]:
    opened: dict[str, _Open] = {}
    for index, notes in enumerate(rows):
        for note in notes:
            for name in note.decorations:
                if name in _TEXTS or name in _TURNS:
                    yield index, _single(name, _beat(note.onset, bars[index]))
                elif name[-1:] == "(" and name[:-1] in _SPANS:
                    opened[name[:-1]] = _Open(index, note.onset)
                elif name[-1:] == ")" and name[:-1] in opened:
                    start = opened.pop(name[:-1])
                    yield start.bar, _span(name[:-1], start, _Open(index, note.onset), note, bars)
    for name, start in opened.items():
        if name == "trill":  # how far it goes nobody said: the sign alone
            yield start.bar, Element("trill", {"place": "above", "tstamp": _at(start, bars)})


def _single(name: str, beat: str) -> Element:
    if name in _TURNS:
        glyph = {"glyph.auth": "smufl", "glyph.num": _TURNS[name]}
        return Element("turn", {"place": "above", "tstamp": beat, **glyph})
    tag, text, look = _TEXTS[name]
    element = Element(tag, {"place": "above", "tstamp": beat})
    SubElement(element, "rend", look).text = text
    return element


def _span(name: str, start: _Open, stop: _Open, last: Note, bars: Sequence[Bar]) -> Element:
    """A sign from note to note; the line of a trill goes to the end of the last."""
    tag, look = _SPANS[name]
    if tag == "trill":
        stop = stop._replace(onset=stop.onset + last.length)
    until = f"{stop.bar - start.bar}m+{_at(stop, bars)}"
    return Element(tag, {**look, "tstamp": _at(start, bars), "tstamp2": until})


def _at(place: _Open, bars: Sequence[Bar]) -> str:
    return _beat(place.onset, bars[place.bar])


def _beat(onset: Fraction, bar: Bar) -> str:
    return mei_beat(onset, bar.metre.unit)


def mei_beat(onset: Fraction, unit: int) -> str:
    """A place in a bar as MEI counts it: in beats of the metre's unit, from 1.

    >>> mei_beat(Fraction(3, 8), 8), mei_beat(Fraction(1, 12), 4)
    ('4', '1.333333')
    """
    return f"{float(onset * unit + 1):.6f}".rstrip("0").rstrip(".")
