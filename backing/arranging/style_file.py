"""A style from its file: every key read, every fault kept with its path.

A style file is TOML; `DEVELOPERS.md` tells its keys.
"""

import re
import tomllib
from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Any

from backing.arranging.places import NOWHERE, Place, Places
from backing.arranging.style import (
    Change,
    Degree,
    Figure,
    Goal,
    Hand,
    Hold,
    Stroke,
    Style,
    Tones,
    Until,
    Variant,
    When,
)
from backing.arranging.style_checks import faults_of
from backing.data import DataReader, joined, shown
from backing.errors import StyleError, did_you_mean
from backing.music.dance import DANCES
from backing.music.metre import parse_metre

_WHEN = re.compile(r"(?:bar (\d{1,3}) )?beats? (\d{1,3}(?:(?:, | and )\d{1,3})*)$")
_BAR_AND = re.compile(r"bar (\d{1,3}) (.*)$")
_RATIO = re.compile(r"\d{1,3}(/[1-9]\d{0,2})?")
_BEATS = re.compile(r"(\d{1,3}(?:/[1-9]\d{0,2})?) beats?$")
_MOST_BEATS, _MOST_BARS = 64, 16
_DANCES = tuple(dance.name for dance in DANCES)
_PLACES = tuple(place.value for place in Place)
_CHANGES = {
    Hand.BASS: ("degree", "hold", "strength"),
    Hand.CHORD: ("tones", "hold", "strength"),
}


def parse_style(text: str, name: str) -> Style:
    """A style from TOML text; StyleError with all faults of the file at once."""
    style, faults = _read(text, name)
    _refuse(faults or faults_of(style), name)
    return style


def parse_shipped_style(text: str, name: str) -> Style:
    """One of our own styles: what its strokes do together was checked before."""
    style, faults = _read(text, name)
    _refuse(faults, name)
    return style


def _read(text: str, name: str) -> tuple[Style, list[str]]:
    try:
        data = tomllib.loads(text, parse_float=_decimal)
    except (ValueError, RecursionError) as error:
        raise StyleError(f"not a TOML file: {error}", source=name) from None
    reader = _Reader()
    return reader.style(data, name), reader.faults


def _refuse(faults: Sequence[str], name: str) -> None:
    if faults:
        count = len(faults)
        raise StyleError(
            f"the style has {count} fault{'s' if count > 1 else ''}",
            "backing styles alternating draws a style and names its file, as a pattern",
            source=name,
            faults=tuple(faults),
        )


def _decimal(text: str) -> Fraction:
    if len(text) > 12 or "e" in text.lower():
        raise ValueError(f"the number {text[:20]} is out of range")
    return Fraction(text)


class _Reader(DataReader):
    """Checks a style's data key by key and keeps every fault."""

    def style(self, data: dict[str, Any], name: str) -> Style:
        self.known(data, "", ("title", "use", "harmony", "thirds", "figure", "variant"))
        harmony = self.word(data, "harmony", ("chords", "tonic"), "chords")
        return Style(
            name=name,
            figures=tuple(
                self.figure(item, f"figure[{index}]")
                for index, item in enumerate(self.tables(data, "figure"))
            ),
            title=self.text(data, "title"),
            use=self.text(data, "use"),
            from_key=harmony == "tonic",
            thirds=self.flag(data, "thirds"),
            variants=self.variants(data),
        )

    def figure(self, data: dict[str, Any], path: str) -> Figure:
        self.known(data, path, ("metres", "dances", "only", "never", "bars", "strokes"))
        return Figure(
            metres=self.metres(data.get("metres", "any"), f"{path}.metres"),
            dances=self.words(data.get("dances", []), f"{path}.dances", _DANCES),
            only=self.places(data.get("only", []), f"{path}.only"),
            never=self.places(data.get("never", []), f"{path}.never"),
            bars=self.whole(data.get("bars", 1), f"{path}.bars", 1, _MOST_BARS, "bars"),
            strokes=tuple(
                self.stroke(item, f"{path}.strokes[{index}]")
                for index, item in enumerate(self.tables(data, "strokes", path))
            ),
        )

    def stroke(self, data: dict[str, Any], path: str) -> Stroke:
        keys = ("when", "after", "play", "degree", "tones", "hold", "strength", "only", "never")
        self.known(data, path, keys)
        play = self.word(data, "play", tuple(Hand), None, path)
        bar, when, beats = self.when(data.get("when"), f"{path}.when")
        if "degree" in data and play == Hand.CHORD:
            self.fault(f"{path}.degree", "only a bass has a degree")
        if "tones" in data and play == Hand.BASS:
            self.fault(f"{path}.tones", "only a chord has tones")
        return Stroke(
            when=when,
            play=Hand(play) if play else Hand.BASS,
            beats=beats,
            bar=bar,
            after=(
                None
                if data.get("after") == "off"
                else self.share(data.get("after", 0), f"{path}.after", Fraction(0), below=True)
            ),
            degrees=self.degrees(data.get("degree", 1), f"{path}.degree"),
            tones=Tones(self.word(data, "tones", tuple(Tones), "all", path) or "all"),
            hold=self.hold(data.get("hold", 1), f"{path}.hold"),
            strength=self.percent(data.get("strength", 100), f"{path}.strength"),
            only=self.places(data.get("only", []), f"{path}.only"),
            never=self.places(data.get("never", []), f"{path}.never"),
        )

    def variants(self, data: dict[str, Any]) -> tuple[Variant, ...]:
        table = data.get("variant", {})
        if not isinstance(table, dict):
            self.fault("variant", "expected tables like [variant.fifths]")
            return ()
        found = []
        for name, entry in table.items():
            path = f"variant.{name}"
            if not isinstance(entry, dict) or not {"bass", "chord"} & entry.keys():
                self.fault(path, "expected changes like bass = { degree = [1, 5] }")
                continue
            self.known(entry, path, ("use", "bass", "chord"))
            use = self.text(entry, "use", path) if "use" in entry else ""
            found.append(Variant(name, use, *(self.change(entry, hand, path) for hand in Hand)))
        return tuple(found)

    def change(self, entry: dict[str, Any], hand: Hand, path: str) -> Change:
        data, path = entry.get(hand, {}), f"{path}.{hand}"
        if not isinstance(data, dict):
            self.fault(path, "expected changes like { degree = [1, 5] }")
            return Change()
        self.known(data, path, _CHANGES[hand])
        tones = self.word(data, "tones", tuple(Tones), "all", path) if "tones" in data else None
        return Change(
            degrees=self.degrees(data["degree"], f"{path}.degree") if "degree" in data else None,
            tones=Tones(tones) if tones else None,
            hold=self.hold(data["hold"], f"{path}.hold") if "hold" in data else None,
            strength=self.percent(data.get("strength", 100), f"{path}.strength"),
        )

    # -- single values ----------------------------------------------------------

    def tables(self, data: dict[str, Any], key: str, path: str = "") -> list[dict[str, Any]]:
        where = joined(path, key)
        items = data.get(key)
        if not isinstance(items, list) or not items:
            self.fault(where, "missing" if items is None else "expected a list of tables")
            return []
        good = [item for item in items if isinstance(item, dict)]
        if len(good) != len(items):
            self.fault(where, "expected a list of tables")
        return good

    def word(
        self,
        data: dict[str, Any],
        key: str,
        words: tuple[str, ...],
        default: str | None,
        path: str = "",
    ) -> str | None:
        where = joined(path, key)
        value = data.get(key, default)
        if value in words:
            return str(value)
        if value is None:
            self.fault(where, "missing")
        else:
            self.fault(where, f"expected {_either(words)}, got {value!r}")
        return None

    def words(self, value: object, path: str, known: tuple[str, ...]) -> tuple[str, ...]:
        """One word, or a list of them, all of them known."""
        items = value if isinstance(value, list) else [value]
        for item in items:
            if item not in known:
                near = did_you_mean(str(item), known) or f"known are {', '.join(known)}"
                self.fault(path, f"unknown: {item!r}; {near}")
                return ()
        return tuple(str(item) for item in items)

    def places(self, value: object, path: str) -> Places:
        return frozenset(Place(word) for word in self.words(value, path, _PLACES)) or NOWHERE

    def when(self, value: object, path: str) -> tuple[int, When, tuple[int, ...]]:
        """The bar of the figure (0: every one), the kind of moment, the beats named."""
        words = [word.value for word in When if word is not When.BEATS]
        if isinstance(value, str):
            bar, rest = 0, value
            if match := _BAR_AND.match(value):
                bar, rest = int(match[1]), match[2]
            if rest in words and (not match or 1 <= bar <= _MOST_BARS):
                return bar, When(rest), ()
            if match := _WHEN.match(value):
                bar = int(match[1] or 0)
                beats = tuple(int(part) for part in re.findall(r"\d+", match[2]))
                if all(1 <= beat <= _MOST_BEATS for beat in beats) and match[1] != "0":
                    return bar, When.BEATS, beats
        said = "missing" if value is None else f"got {_short(value)}"
        near = did_you_mean(str(value)[:40], words)
        expected = ["beat 1", "beats 2 and 3", "bar 2 beat 1", *words]
        self.fault(path, f"expected {_either(expected)}; {near or said}")
        return 0, When.EACH, ()

    def metres(self, value: object, path: str) -> tuple[str, ...]:
        if value == "any":
            return ()
        if not isinstance(value, list) or not value:
            self.fault(path, 'expected "any" or a list like ["3/4", "3/2"]')
            return ()
        found = []
        for metre in value:
            try:
                found.append(parse_metre(str(metre)).feel)
            except ValueError as error:
                self.fault(path, str(error))
                continue
            if found[-1] != metre:
                self.fault(path, f"{_short(metre)} is felt in {found[-1]}; write that")
        return tuple(found)

    def degrees(self, value: object, path: str) -> tuple[Degree, ...]:
        items = value if isinstance(value, list) else [value]
        if not items:
            self.fault(path, "expected a degree")
            return (1,)
        if Goal.TONIC in items and len(items) > 1:
            self.fault(path, '"tonic" stands alone: it goes by the key, the others by the chord')
        found = [self.degree(item, path) for item in items]
        return tuple(found)

    def degree(self, value: object, path: str) -> Degree:
        if isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= 8:
            return value
        if value in tuple(Goal):
            return Goal(str(value))
        self.fault(path, f"expected 1 to 8, {_either(Goal)}, got {_short(value)}")
        return 1

    def hold(self, value: object, path: str) -> Hold:
        if value in (Until.BAR_LINE, Until.CHANGE):
            return Hold(Until(str(value)))
        if isinstance(value, str) and (match := _BEATS.match(value)):
            amount = Fraction(match[1])
            if 0 < amount <= _MOST_BEATS:
                return Hold(Until.BEATS, amount)
            self.fault(path, f"expected more than 0 and up to {_MOST_BEATS} beats, got {value!r}")
            return Hold()
        says = 'a share like "1/2", "2 beats", "until bar line" or "until change"'
        return Hold(amount=self.share(value, path, Fraction(1, 100), says=says))

    def share(
        self,
        value: object,
        path: str,
        least: Fraction,
        *,
        below: bool = False,
        says: str = 'a share like "1/2"',
    ) -> Fraction:
        number = isinstance(value, int | Fraction) and not isinstance(value, bool)
        ratio = isinstance(value, str) and bool(_RATIO.fullmatch(value))
        share = Fraction(str(value)) if number or ratio else None
        if share is None or not least <= share <= 1 or (below and share == 1):
            self.fault(path, f"expected {says}, got {_short(value)}")
            return least
        return share

    def percent(self, value: object, path: str) -> int:
        return self.whole(value, path, 1, 120, "per cent")

    def whole(self, value: object, path: str, least: int, most: int, of: str) -> int:
        if isinstance(value, int) and not isinstance(value, bool) and least <= value <= most:
            return value
        self.fault(path, f"expected {least} to {most} {of}, got {_short(value)}")
        return most


def _either(words: Iterable[str]) -> str:
    """Words to choose from.

    >>> _either(["bass", "chord"]), _either(["1", "2", "3"])
    ('bass or chord', '1, 2 or 3')
    """
    *first, last = [str(word) for word in words]
    return f"{', '.join(first)} or {last}" if first else last


def _short(value: object) -> str:
    """A value as it may be shown: numbers plain, nothing endless."""
    return shown(float(value) if isinstance(value, Fraction) else value)
