"""Bar numbers, pickups and sections: what the bar lines of a tune say about its form."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate, count
from typing import NamedTuple, Protocol

from backing.errors import Notice
from backing.music.metre import Metre
from backing.music.tune import Bar, Ending

_BOUNDARIES = ("||", "|]", "[|")


class Framed(Protocol):
    """What a bar must tell for its form to be worked out, finished or not."""

    @property
    def length(self) -> Fraction:
        """How long it lasts."""

    @property
    def metre(self) -> Metre:
        """Its metre."""

    @property
    def opens_repeat(self) -> int:
        """The count of a repeat sign at its start."""

    @property
    def plays(self) -> int:
        """How often the strain is played that ends with it."""

    @property
    def ending(self) -> Ending | None:
        """The ending that it belongs to."""

    @property
    def close(self) -> str:
        """Its bar line."""

    @property
    def label(self) -> str:
        """What a part label at its start says."""


class BarForm(NamedTuple):
    """Where a bar stands in the form: number, section, whether it is a pickup."""

    number: int
    section: str
    pickup: bool


def lay_out_form(bars: Sequence[Bar]) -> tuple[Bar, ...]:
    """The same bars with numbers, pickups and sections worked out."""
    return tuple(
        replace(bar, number=place.number, section=place.section, pickup=place.pickup)
        for bar, place in zip(bars, form_of(bars), strict=True)
    )


def form_of(bars: Sequence[Framed]) -> list[BarForm]:
    """Number, section and pickup of each bar.

    Full bars count from 1 in written order, endings going on.  A short first bar is the
    pickup, bar 0.  A short bar after a repeat or a double bar leads into what follows;
    it shares the number of the bar before it.  Sections come from the labels, else from
    the repeats and double bars.
    """
    pickups = [_is_pickup(bars, index) for index in range(len(bars))]
    sections = _sections(bars, pickups)
    places, number = [], 0
    for pickup, section in zip(pickups, sections, strict=True):
        number += not pickup
        places.append(BarForm(number, section, pickup))
    return places


def _is_pickup(bars: Sequence[Framed], index: int) -> bool:
    bar = bars[index]
    if bar.metre.free or bar.length >= bar.metre.length or index + 1 == len(bars):
        return False
    return index == 0 or begins_strain(bars, index)


def begins_strain(bars: Sequence[Framed], index: int) -> bool:
    """True where a bar line before this bar, or a label on it, marks a new strain."""
    bar, before = bars[index], bars[index - 1]
    if index == 0 or bar.label:
        return True
    if bar.ending is not None and min(bar.ending.numbers) > 1:
        return False
    return bool(bar.opens_repeat or before.plays or before.close in _BOUNDARIES)


def _sections(bars: Sequence[Framed], pickups: list[bool]) -> list[str]:
    """The name of the section that each bar belongs to."""
    labelled = [i for i, bar in enumerate(bars) if bar.label]
    if labelled:
        starts = [_with_pickup(bars, pickups, i) for i in labelled]
        labels = [bars[i].label for i in labelled]
        if starts[0] > 0:
            starts, labels = [0, *starts], ["", *labels]
    else:
        starts = [i for i in range(len(bars)) if begins_strain(bars, i)]
        starts = _join_short(pickups, starts)
        labels = [""] * len(starts)
    bounds = [*starts[1:], len(bars)]
    names: list[str] = []
    for name, start, stop in zip(_names(labels), starts, bounds, strict=True):
        names += [name] * (stop - start)
    return names


def _with_pickup(bars: Sequence[Framed], pickups: list[bool], start: int) -> int:
    """Where a labelled section starts, the pickup before its label counted in."""
    while start and pickups[start - 1] and not bars[start - 1].label:
        start -= 1
    return start


def _join_short(pickups: list[bool], starts: list[int]) -> list[int]:
    """The starts of sections that hold a full bar: a pickup alone belongs to what follows."""
    full = [0, *accumulate(not pickup for pickup in pickups)]
    kept: list[int] = []
    for start in starts:
        if not kept or full[start] > full[kept[-1]]:
            kept.append(start)
    if len(kept) > 1 and full[-1] == full[kept[-1]]:
        kept.pop()
    return kept


def _names(labels: list[str]) -> list[str]:
    """A name for each section: its label, else the next free letter; a label that comes
    again gets a number."""
    given = set(labels)
    letters = (name for name in map(_letter, count()) if name not in given)
    times: dict[str, int] = {}
    used: set[str] = set()
    names: list[str] = []
    for label in (label or next(letters) for label in labels):
        name = label
        while name in used:
            times[label] = times.get(label, 1) + 1
            name = f"{label}{times[label]}"
        used.add(name)
        names.append(name)
    return names


def _letter(index: int) -> str:
    return chr(ord("A") + index) if index < 26 else _letter(index // 26 - 1) + _letter(index % 26)


def odd_lengths(bars: Sequence[Bar]) -> list[Notice]:
    """A notice for each bar whose length its metre does not explain."""
    notices = []
    strain = 0
    led_in: Bar | None = None
    for index, bar in enumerate(bars):
        full = bar.metre.length
        led_in = bar if bar.pickup else led_in
        strain = index if begins_strain(bars, index) else strain
        lead = bars[strain]
        if bar.plays and lead.pickup and not bar.metre.free and bar.length + lead.length > full:
            said = f"bar {bar.number} and the pickup that the repeat goes back to are longer "
            hint = "played as written; a short last bar makes the repeat go on the beat"
            notices.append(_at_bar_line(bar, said + "than one bar", hint))
        if bar.metre.free or bar.pickup or bar.length == full:
            continue
        if bar.length < full and _is_completed(bars, index, led_in):
            continue
        length = _length(bar.length, bar.metre.unit)
        said = f"bar {bar.number} lasts {length}, the metre is {bar.metre}"
        hint = "a note or a bar line may be missing or misplaced; played as written"
        notices.append(_at_bar_line(bar, said, hint))
    return notices


def _at_bar_line(bar: Bar, message: str, hint: str) -> Notice:
    """A notice that points at the bar line after a bar."""
    source = bar.source
    return Notice(message, hint, source.line if source else 0, source.end - 1 if source else 0)


def _is_completed(bars: Sequence[Bar], index: int, led_in: Bar | None) -> bool:
    """True where a short bar ends a strain that a pickup leads into, or out of; `led_in` is the
    last pickup before it."""
    bar = bars[index]
    missing = bar.metre.length - bar.length
    last = index + 1 == len(bars)
    if not (last or bar.plays or bar.close in _BOUNDARIES or begins_strain(bars, index + 1)):
        return False
    beside = (led_in, bars[0], None if last else bars[index + 1])
    return any(b is not None and b.pickup and b.length == missing for b in beside)


def _length(length: Fraction, unit: int) -> str:
    """A length in the unit of the metre where it fits.

    >>> _length(Fraction(3, 4), 8)
    '6/8'
    """
    count = length * unit
    return f"{count}/{unit}" if count.denominator == 1 else str(length)
