"""What stands above the notes: tempo, swing, jumps, section marks, words, loudness.

MusicXML 4.0, elements `direction`, `sound`, `metronome`, `swing`.  Where a direction has
both words and a `sound`, the `sound` says what is played; one that says nothing means that
the words are only words.
"""

import re
from dataclasses import dataclass, field, replace
from fractions import Fraction
from xml.etree.ElementTree import Element

from backing.music.metre import Metre
from backing.music.tempo import FASTEST, SLOWEST, Tempo, decimal
from backing.music.tune import Jump, TempoMark
from backing.parse.musicxml.words import Remarks, number_of, text_of

_QUARTER = Fraction(1, 4)
_BEAT_UNITS = {
    "breve": Fraction(2), "whole": Fraction(1), "half": Fraction(1, 2), "quarter": _QUARTER,
    "eighth": Fraction(1, 8), "16th": Fraction(1, 16), "32nd": Fraction(1, 32),
}  # fmt: skip
_SOUND_JUMPS = {
    "segno": Jump.SEGNO, "coda": Jump.CODA, "tocoda": Jump.TO_CODA, "fine": Jump.FINE,
    "dacapo": Jump.DA_CAPO, "dalsegno": Jump.DAL_SEGNO,
}  # fmt: skip
_WORD_JUMPS = (
    (re.compile(r"(?:d\.?\s*c\b|da\s+capo\b)", re.IGNORECASE), Jump.DA_CAPO),
    (re.compile(r"(?:d\.?\s*s\b|dal\s+segno\b)", re.IGNORECASE), Jump.DAL_SEGNO),
    (re.compile(r"to\s+coda\b", re.IGNORECASE), Jump.TO_CODA),
    (re.compile(r"fine\.?$", re.IGNORECASE), Jump.FINE),
    (re.compile(r"coda\.?$", re.IGNORECASE), Jump.CODA),
    (re.compile(r"segno\.?$", re.IGNORECASE), Jump.SEGNO),
)
_NUMBER = re.compile(r"\d{1,6}(?:\.\d{1,6})?")
_LONGEST_LABEL = 40


@dataclass(slots=True)
class Directions:
    """What the directions of one measure say, tempi by their place; `texts` and `signs` belong
    to notes."""

    jumps: list[tuple[Fraction, Jump]] = field(default_factory=list)
    tempos: dict[Fraction, TempoMark] = field(default_factory=dict)
    label: tuple[Fraction, str] | None = None
    texts: list[tuple[Fraction, str]] = field(default_factory=list)
    signs: list[tuple[Fraction, str]] = field(default_factory=list)
    swing: Fraction | None = None
    opens_repeat: bool = False

    def without_words(self) -> "Directions":
        """The same, for a further part: its words and loudness are not the melody's."""
        return replace(self, texts=[], signs=[])

    def take(self, other: "Directions") -> None:
        """Take over what another part has added; the lists are shared."""
        self.tempos, self.label, self.swing = other.tempos, other.label, other.swing
        self.opens_repeat = other.opens_repeat


def read_direction(
    into: Directions, element: Element, onset: Fraction, metre: Metre, place: tuple[str, Remarks]
) -> None:
    """Add what a `direction`, or a `sound` on its own, says."""
    sounds = [element] if element.tag == "sound" else element.findall("sound")
    jumps = [
        jump for sound in sounds for name, jump in _SOUND_JUMPS.items() if _is_set(sound, name)
    ]
    silent = element.tag == "direction" and any(not s.attrib and not len(s) for s in sounds)
    printed = _printed(into, element, onset, obeyed=not silent)
    known = [jump for _, jump in into.jumps]
    into.jumps += [(onset, jump) for jump in dict.fromkeys(jumps or printed) if jump not in known]
    _tempo(into, element, sounds, onset, metre, place)
    for sound in sounds:
        into.opens_repeat = into.opens_repeat or sound.get("forward-repeat") == "yes"
        swing = sound.find("swing")
        if swing is not None and into.swing is None:
            into.swing = _swing(swing, place)


def _is_set(sound: Element, name: str) -> bool:
    return sound.get(name, "no").strip().lower() not in ("no", "")


def _printed(into: Directions, element: Element, onset: Fraction, *, obeyed: bool) -> list[Jump]:
    """Add what a direction prints; the jumps that its signs and words stand for."""
    jumps: list[Jump] = []
    side = "_" if element.get("placement") == "below" else "^"
    for sign in (sign for kind in element.findall("direction-type") for sign in kind):
        text = " ".join(text_of(sign).split())
        jump = _jump_of(sign, text) if obeyed or sign.tag != "words" else None
        if jump is not None:
            jumps.append(jump)
        elif sign.tag == "words" and text:
            into.texts.append((onset, side + text))
        elif sign.tag == "rehearsal" and text:
            into.label = onset, text[:_LONGEST_LABEL]
        elif sign.tag == "dynamics":
            into.signs += [(onset, str(mark.tag)) for mark in sign if mark.tag != "other-dynamics"]
    if Jump.TO_CODA in jumps and Jump.CODA in jumps:
        jumps.remove(Jump.CODA)
    return jumps


def _jump_of(sign: Element, text: str) -> Jump | None:
    if sign.tag in ("segno", "coda"):
        return Jump(sign.tag)
    if sign.tag != "words":
        return None
    return next((jump for pattern, jump in _WORD_JUMPS if pattern.match(text)), None)


# -- tempo ----------------------------------------------------------------------


def _tempo(
    into: Directions,
    element: Element,
    sounds: list[Element],
    onset: Fraction,
    metre: Metre,
    place: tuple[str, Remarks],
) -> None:
    where, remarks = place
    played = next((sound.get("tempo") for sound in sounds if sound.get("tempo")), None)
    mark = element.find("direction-type/metronome")
    if played is None and mark is None:
        return
    unit = _beat_unit(mark)
    try:
        tempo = _read_tempo(played, mark, unit, metre)
    except ValueError as error:
        remarks.add(where, str(error), "the tempo before it goes on")
        return
    if tempo is None:
        remarks.add(where, "a metronome mark without a number", "the tempo before it goes on")
        return
    text = f"{tempo.unit}={decimal(tempo.beats)}"
    if unit is not None:
        into.tempos.pop(onset, None)
    into.tempos.setdefault(onset, TempoMark(onset, tempo, text))


def _beat_unit(mark: Element | None) -> Fraction | None:
    """The note that a metronome mark counts, dots included."""
    unit = _BEAT_UNITS.get(text_of(mark, "beat-unit")) if mark is not None else None
    if mark is None or unit is None or len(mark.findall("beat-unit")) > 1:
        return None
    dots = len(mark.findall("beat-unit-dot"))
    return unit * (2 - Fraction(1, 2 ** min(dots, 4)))


def _read_tempo(
    played: str | None, mark: Element | None, unit: Fraction | None, metre: Metre
) -> Tempo | None:
    """The tempo that sounds (quarter notes a minute), in the unit that is printed, else in
    the first felt beat; a printed mark alone is played as it stands."""
    if played is not None:
        tempo = Tempo(number_of(played), _QUARTER)
        if tempo.beats > 0:
            tempo = tempo.in_unit(unit or next(iter(metre.beats), _QUARTER))
    else:
        number = _NUMBER.search(text_of(mark, "per-minute"))
        if number is None or unit is None:
            return None
        tempo = Tempo(Fraction(number[0]), unit)
    if not SLOWEST <= tempo.beats <= FASTEST * 4 or not 5 <= tempo.wholes * 4 <= 1000:
        raise ValueError(f"a tempo of {tempo} is too slow or too fast to play")
    return tempo


def _swing(element: Element, place: tuple[str, Remarks]) -> Fraction | None:
    """How long the first note of a pair is beside the second; 1 where it is straight."""
    if element.find("straight") is not None:
        return Fraction(1)
    where, remarks = place
    try:
        first = number_of(text_of(element, "first"))
        second = number_of(text_of(element, "second"))
        if not 0 < second <= first <= 5 * second:
            raise ValueError(f"a swing of {first} to {second}")
    except ValueError as error:
        remarks.add(where, str(error), "it is left out")
        return None
    return first / second
