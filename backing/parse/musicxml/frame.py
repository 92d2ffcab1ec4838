"""The frame that all voices share: metre, key, repeats, endings, jumps, chords, tempo.

Every part of a score repeats its bar lines; what any of them says counts.  MusicXML 4.0,
elements `attributes`, `barline`, `repeat`, `ending`.
"""

import re
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import TypeVar
from xml.etree.ElementTree import Element

from backing.music.key import MODES, NO_KEY, Key
from backing.music.metre import FREE, Metre, make_metre, parse_metre
from backing.music.transpose import UNISON, Interval, move_key
from backing.music.tune import ChordSymbol, Ending, Jump, TempoMark
from backing.parse.draft import FrameDraft, put_chord
from backing.parse.musicxml.directions import Directions, read_direction
from backing.parse.musicxml.harmony import read_harmony
from backing.parse.musicxml.parts import Measure, Part
from backing.parse.musicxml.words import Remarks, bounded_number, fault, number_of, text_of

_CLOSES = {
    "light-light": "||", "heavy-heavy": "||", "heavy": "||", "light-heavy": "|]",
    "heavy-light": "[|",
}  # fmt: skip
_MODE_WORDS = {**{mode: mode for mode in MODES}, "ionian": "major", "aeolian": "minor"}
_NUMBERS = re.compile(r"\d+")
_MOST_PLAYS = 100
_AT_START = (Jump.SEGNO, Jump.CODA)
_Mark = TypeVar("_Mark", TempoMark, ChordSymbol)


@dataclass(slots=True, eq=False, kw_only=True)
class Draft(FrameDraft):
    """A bar in the making; `measures` are the written ones that it is made of."""

    where: str
    measures: list[int]
    implicit: bool = False
    texts: list[tuple[Fraction, str]] = field(default_factory=list)
    signs: list[tuple[Fraction, str]] = field(default_factory=list)
    starts: list[Fraction] = field(default_factory=lambda: [Fraction(0)])


class Frame:
    """Reads the frame from the parts, the melody's part first."""

    def __init__(self, parts: list[Part], remarks: Remarks) -> None:
        self._parts = parts
        self._remarks = remarks
        self._metre, self._key = FREE, NO_KEY
        self._directions: list[Directions] = []
        self.swing: Fraction | None = None
        self.drafts: list[Draft] = []

    def read(self) -> list[Draft]:
        """The bars of the tune, split ones joined where no sign stands between the halves."""
        melody = self._parts[0]
        for index, measure in enumerate(melody.measures):
            try:
                self._attributes(measure)
            except ValueError as error:
                raise fault(measure.where, error) from None
            self._add(index, measure)
        for part in self._parts:
            self._read_part(part)
        self._place_directions()
        _match_repeats(self.drafts)
        return _joined(self.drafts)

    def _add(self, index: int, measure: Measure) -> None:
        columns = [part.measures[index] for part in self._parts if index < len(part.measures)]
        length = max(column.length for column in columns)
        length = length or self._metre.length or Fraction(1)
        draft = Draft(
            where=measure.where,
            metre=self._metre,
            key=self._key,
            length=length,
            measures=[index],
            implicit=measure.implicit,
        )
        self.drafts.append(draft)
        self._directions.append(Directions())

    # -- metre and key ----------------------------------------------------------

    def _attributes(self, measure: Measure) -> None:
        for placed in measure.others:
            if placed.element.tag != "attributes":
                continue
            time, key = placed.element.find("time"), placed.element.find("key")
            if (time is not None or key is not None) and 0 < placed.onset < measure.length:
                self._remarks.add(
                    measure.where, "the metre or the key changes within the bar",
                    "it is taken to change at the next bar line",
                )  # fmt: skip
            if time is not None:
                self._metre = _read_metre(time)
            if key is not None:
                self._key = move_key(_read_key(key), _within_octave(measure.shift))

    # -- signs ------------------------------------------------------------------

    def _read_part(self, part: Part) -> None:
        ending: Ending | None = None
        chorded = any(draft.chords for draft in self.drafts)
        for draft, directions, measure in zip(
            self.drafts, self._directions, part.measures, strict=False
        ):
            try:
                ending = self._bar_lines(draft, measure, ending)
                for placed in measure.others:
                    tag = placed.element.tag
                    if tag in ("direction", "sound"):
                        place = measure.where, self._remarks
                        into = directions if part is self._parts[0] else directions.without_words()
                        read_direction(into, placed.element, placed.onset, draft.metre, place)
                        directions.take(into)
                    elif tag == "harmony" and not chorded:
                        self._harmony(draft, directions, placed.element, placed.onset, measure)
            except ValueError as error:
                raise fault(measure.where, error) from None

    def _harmony(
        self, draft: Draft, into: Directions, element: Element, onset: Fraction, measure: Measure
    ) -> None:
        found = read_harmony(element, onset, measure.shift, measure.where, self._remarks)
        if isinstance(found, str):
            into.texts += [(onset, found)] if found else []
            return
        before = put_chord(draft.chords, found)
        if before is not None:
            self._remarks.add(
                measure.where,
                f"several chord symbols at one place: {before.text}, {found.text}",
                f"{found.text} is played",
            )

    def _bar_lines(self, draft: Draft, measure: Measure, ending: Ending | None) -> Ending | None:
        """Read the bar lines of a measure; the ending that goes on after it."""
        stops = False
        for placed in measure.others:
            element = placed.element
            if element.tag != "barline" or element.get("location") == "middle":
                continue
            left = element.get("location") == "left"
            sign = element.find("ending")
            if sign is not None and sign.get("type") == "start":
                ending = Ending(self._ending_numbers(sign, draft, measure.where), first=True)
            elif sign is not None:
                stops = True
            self._bar_line(draft, element, left, measure.where)
        if ending is not None and draft.opens_repeat and not ending.first:
            ending = None
        if ending is not None and draft.ending is None:
            draft.ending = ending
        if ending is None or stops or draft.plays:
            return None
        return Ending(ending.numbers)

    def _bar_line(self, draft: Draft, element: Element, left: bool, where: str) -> None:
        index = draft.measures[0]
        repeat = element.find("repeat")
        onset = Fraction(0) if left else draft.length
        for jump in _AT_START:
            known = [sign for _, sign in self._directions[index].jumps]
            if element.find(jump.value) is not None and jump not in known:
                self._directions[index].jumps.append((onset, jump))
        if repeat is not None and repeat.get("direction") == "forward":
            draft.opens_repeat = 2
        elif repeat is not None:
            self._backward(draft, repeat, where)
        else:
            close = _CLOSES.get(text_of(element, "bar-style"))
            changed = self.drafts[index - 1] if left and index else None if left else draft
            if close and changed is not None and not changed.plays:
                changed.close = close

    def _backward(self, draft: Draft, repeat: Element, where: str) -> None:
        times = repeat.get("times")
        plays = bounded_number(times, 1, _MOST_PLAYS) if times else 2
        if plays < 2:
            self._remarks.add(where, "a repeat that is played once", "it is played twice")
        if repeat.get("after-jump") == "yes":
            self._remarks.add(
                where, "a repeat after the jump", "repeats are not played again after a jump"
            )
        draft.plays = max(plays, 2)
        draft.close = "|"

    def _ending_numbers(self, sign: Element, draft: Draft, where: str) -> tuple[int, ...]:
        """The numbers of an ending; where they are left blank, the next one."""
        texts = [sign.get("number", ""), text_of(sign)]
        for text in texts:
            numbers = {int(number) for number in _NUMBERS.findall(text[:400]) if len(number) < 4}
            if numbers and min(numbers) > 0 and max(numbers) <= _MOST_PLAYS:
                return tuple(sorted(numbers))
        index = draft.measures[0]
        before = self.drafts[index - 1].ending if index else None
        number = max(before.numbers) + 1 if before is not None else 1
        self._remarks.add(where, "an ending without a number", f"it is taken for number {number}")
        return (number,)

    def _place_directions(self) -> None:
        """Put what stands at the end of a measure, and belongs after it, where it belongs."""
        _settle_codas(self._directions)
        for index, (draft, said) in enumerate(zip(self.drafts, self._directions, strict=True)):
            following = self.drafts[index + 1] if index + 1 < len(self.drafts) else None
            for onset, jump in said.jumps:
                later = jump in _AT_START and onset >= draft.length
                target = following if later else draft
                if target is not None and jump not in target.jumps:
                    target.jumps.append(jump)
            if said.label is not None:
                target = following if said.label[0] >= draft.length else draft
                if target is not None:
                    target.label = said.label[1]
            next_tempos = following.tempos if following else []
            next_chords = following.chords if following else []
            draft.tempos = _stay([*draft.tempos, *said.tempos.values()], next_tempos, draft.length)
            draft.chords = _stay(draft.chords, next_chords, draft.length)
            draft.texts, draft.signs = said.texts, said.signs
            if said.opens_repeat and not self._implied(index):
                draft.opens_repeat = draft.opens_repeat or 2
            self.swing = self.swing or said.swing

    def _implied(self, index: int) -> bool:
        """True where a repeat would go back to this bar without any sign that opens it."""
        before = self.drafts[index - 1] if index else None
        return before is None or bool(before.plays) or before.close in ("||", "|]", "[|")


def _stay(marks: list[_Mark], following: list[_Mark], length: Fraction) -> list[_Mark]:
    """The marks within a bar; one that stands at its end begins the bar that follows."""
    late = [mark for mark in marks if mark.onset >= length]
    if late and not any(mark.onset == 0 for mark in following):
        following.insert(0, replace(late[-1], onset=Fraction(0)))
    kept = [mark for mark in marks if mark.onset < length]
    return sorted(kept, key=lambda mark: mark.onset)


def _settle_codas(directions: list[Directions]) -> None:
    """Of two coda signs the first says where to leave, the second where to go."""
    jumps = [jump for said in directions for _, jump in said.jumps]
    if jumps.count(Jump.CODA) < 2 or Jump.TO_CODA in jumps:
        return
    for said in directions:
        for place, (onset, jump) in enumerate(said.jumps):
            if jump is Jump.CODA:
                said.jumps[place] = onset, Jump.TO_CODA
                return


def _match_repeats(drafts: list[Draft]) -> None:
    """A sign that opens a repeat asks for as many times as the sign that closes it."""
    opener: Draft | None = None
    for draft in drafts:
        if draft.opens_repeat:
            opener = draft
        if draft.plays:
            if opener is not None and draft.ending is None:
                opener.opens_repeat = draft.plays
            opener = None


def _joined(drafts: list[Draft]) -> list[Draft]:
    """The bars, with the two halves of one made one bar where no sign parts them."""
    joined: list[Draft] = []
    for draft in drafts:
        if joined and _is_second_half(joined[-1], draft):
            _join(joined[-1], draft)
        else:
            joined.append(draft)
    return joined


def _is_second_half(first: Draft, second: Draft) -> bool:
    if not second.implicit or second.metre != first.metre or second.key != first.key:
        return False
    if first.length + second.length != first.metre.length or first.plays or first.close != "|":
        return False
    starts = second.ending is not None and second.ending.first
    return not (starts or second.opens_repeat or second.label or first.jumps or second.jumps)


def _join(first: Draft, second: Draft) -> None:
    at = first.length
    first.measures += second.measures
    first.starts += [at + start for start in second.starts]
    first.length += second.length
    first.tempos += [replace(mark, onset=mark.onset + at) for mark in second.tempos]
    first.chords += [replace(chord, onset=chord.onset + at) for chord in second.chords]
    first.texts += [(onset + at, text) for onset, text in second.texts]
    first.signs += [(onset + at, sign) for onset, sign in second.signs]
    first.plays, first.close, first.jumps = second.plays, second.close, second.jumps


# -- metre and key --------------------------------------------------------------


def _read_metre(time: Element) -> Metre:
    """A metre; several pairs, or sums of beats, make its felt beats."""
    if time.find("senza-misura") is not None:
        return FREE
    beats = [text_of(element) for element in time.findall("beats")]
    units = [text_of(element) for element in time.findall("beat-type")]
    if not beats or len(beats) != len(units):
        raise ValueError("a metre without beats")
    pairs = [parse_metre(f"{count}/{unit}") for count, unit in zip(beats, units, strict=True)]
    symbol = {"common": "C", "cut": "C|"}.get(time.get("symbol", ""))
    if symbol is not None and str(pairs[0]) == str(parse_metre(symbol)):
        return parse_metre(symbol)
    if len(pairs) == 1:
        return pairs[0]
    unit = max(pair.unit for pair in pairs)
    grouping = tuple(int(beat * unit) for pair in pairs for beat in pair.beats)
    return make_metre(sum(grouping), unit, grouping)


def _read_key(element: Element) -> Key:
    """A key: sharps or flats and a mode, or single altered letters.

    MusicXML 4.0, element `key`.  Without a mode it is taken for major.
    """
    if element.find("key-step") is not None:
        letters = [text_of(step) for step in element.findall("key-step")]
        alters = [number_of(text_of(alter)) for alter in element.findall("key-alter")]
        changes = [
            (letter, int(alter))
            for letter, alter in zip(letters, alters, strict=False)
            if letter in tuple("ABCDEFG") and alter.denominator == 1 and abs(alter) <= 2
        ]
        return Key("C", 0, "major", tuple(changes), explicit=True)
    fifths = bounded_number(text_of(element, "fifths") or "0", -14, 14)
    word = text_of(element, "mode").lower()
    if word == "none" and not fifths:
        return NO_KEY
    mode = _MODE_WORDS.get(word, "major")
    place = fifths - MODES[mode] + 1
    return Key("FCGDAEB"[place % 7], place // 7, mode)


def _within_octave(shift: Interval) -> Interval:
    """The shift without its octaves, which leave the key alone."""
    octaves = int(shift.semitones / 12)
    if not octaves:
        return shift
    rest = Interval(shift.steps - 7 * octaves, shift.semitones - 12 * octaves)
    return UNISON if rest.unison else rest
