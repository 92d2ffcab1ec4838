"""The names of ornaments and articulations: music21's classes as ABC 2.1 calls them."""

from typing import Any
from xml.etree.ElementTree import Element

from backing.parse.musicxml.words import text_of

#: By class name in music21; ABC 2.1 clause 4.14, and plain words where it has no name.
_NAMES = {
    "Staccato": "staccato", "Accent": "accent", "StrongAccent": "marcato", "Tenuto": "tenuto",
    "Staccatissimo": "wedge", "Spiccato": "wedge", "DetachedLegato": "portato",
    "BreathMark": "breath", "Caesura": "caesura", "Scoop": "slide", "UpBow": "upbow",
    "DownBow": "downbow", "OpenString": "open", "StringThumbPosition": "thumb",
    "SnapPizzicato": "snap", "Stopped": "plus", "Trill": "trill", "Turn": "turn",
    "InvertedTurn": "invertedturn", "Mordent": "lowermordent", "InvertedMordent": "uppermordent",
    "Shake": "trill", "Schleifer": "slide", "ArpeggioMark": "arpeggio", "Tremolo": "tremolo",
}  # fmt: skip


def decorations_of(element: Any) -> tuple[str, ...]:
    """The decorations of a note or rest of music21, in its order."""
    names = [_name(sign) for sign in (*element.expressions, *element.articulations)]
    return tuple(name for name in names if name)


def _name(sign: Any) -> str:
    kind = type(sign).__name__
    if kind == "Fermata":
        return "invertedfermata" if sign.type == "inverted" else "fermata"
    if kind == "Fingering":
        return str(sign.fingerNumber)[:8] if sign.fingerNumber else ""
    if kind in ("Articulation", "TechnicalIndication"):
        return str(getattr(sign, "displayText", None) or "")[:40]
    return _NAMES.get(kind, "")


def lyrics_of(elements: list[Element]) -> tuple[str, ...]:
    """The syllables of a note, a hyphen where the word goes on, "_" where one is held.

    MusicXML 4.0, elements `lyric`, `syllabic`, `elision`, `extend`.
    """
    verses: dict[int, str] = {}
    for count, lyric in enumerate((e for n in elements for e in n.findall("lyric")), 1):
        number = lyric.get("number", "")
        verse = int(number) if number.isdecimal() and 0 < len(number) < 3 else count
        texts = [text_of(text) for text in lyric.findall("text")]
        syllable = " ".join(text for text in texts if text)
        ends = [text_of(sort) for sort in lyric.findall("syllabic")]
        if syllable and ends and ends[-1] in ("begin", "middle"):
            syllable += "-"
        elif not syllable and lyric.find("extend") is not None:
            syllable = "_"
        if syllable and 0 < verse <= 99:
            verses[verse] = syllable
    return tuple(verses.get(verse, "") for verse in range(1, max(verses, default=0) + 1))
