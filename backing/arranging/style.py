"""Accompaniment styles: what the left hand plays, in musical terms.

A style is data (TOML, see DEVELOPERS.md): figures for metres, each a list of strokes
that say when in the bar, bass or chord, which degree, how long, how strong.  Reading
one reports all its faults at once, each with its key path.
"""

import re
import tomllib
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from typing import Any

from backing.errors import StyleError, did_you_mean
from backing.music.metre import Metre, parse_metre

_WHEN = re.compile(r"beats? (\d{1,3}(?:(?:, | and )\d{1,3})*)$")
_RATIO = re.compile(r"\d{1,3}(/[1-9]\d{0,2})?")
_MOST_BEATS = 64


class When(StrEnum):
    """Which moments a stroke belongs to."""

    BEATS = "beat N"
    EACH = "each beat"
    STRONG = "strong beats"
    WEAK = "weak beats"
    CHANGE = "each change"
    SECTION = "each section"


class Hand(StrEnum):
    """Which button the left hand presses."""

    BASS = "bass"
    CHORD = "chord"


@dataclass(frozen=True, slots=True)
class Stroke:
    """One press of a left-hand button.

    `beats` (from 1) belong to `When.BEATS`.  `after` is the share of the beat that
    passes first; None means the off-beat: half of a beat that halves, two thirds of one
    that divides in three.  `degrees` are taken by turns while the harmony stays.
    `hold` is the share of the time to the next stroke; None holds until the harmony
    changes (or the section ends).  `strength` is in per cent of the full one.
    """

    when: When
    play: Hand
    beats: tuple[int, ...] = ()
    after: Fraction | None = Fraction(0)
    degrees: tuple[int, ...] = (1,)
    hold: Fraction | None = Fraction(1)
    strength: int = 100


@dataclass(frozen=True, slots=True)
class Figure:
    """Strokes for the metres named; no metres: for any."""

    metres: tuple[str, ...]
    strokes: tuple[Stroke, ...]


@dataclass(frozen=True, slots=True)
class Style:
    """An accompaniment style.

    `name` is what players call it by; `use` says in a sentence when to take it.
    `from_key` means that it plays the key's tonic, not the chord symbols; `thirds` is
    False where its chords leave the third out.  `variants` are (name, bass degrees by
    turns) pairs, asked for as "name:variant".
    """

    name: str
    title: str
    use: str
    figures: tuple[Figure, ...]
    from_key: bool = False
    thirds: bool = True
    variants: tuple[tuple[str, tuple[int, ...]], ...] = ()

    def figure_for(self, metre: Metre) -> Figure:
        """The first figure for the metre as it is felt, or for any."""
        return next(
            figure for figure in self.figures if not figure.metres or metre.feel in figure.metres
        )

    def variant(self, name: str) -> "Style":
        """The style with one of its variants; StyleError where it has none such."""
        for known, degrees in self.variants:
            if known == name:
                return _with_bass(self, name, degrees)
        names = [known for known, _ in self.variants]
        raise StyleError(
            f"the style {self.name} has no variant {name!r}",
            did_you_mean(name, names) or ("it has " + ", ".join(names) if names else ""),
        )


def _with_bass(style: Style, variant: str, degrees: tuple[int, ...]) -> Style:
    figures = tuple(
        replace(
            figure,
            strokes=tuple(
                replace(stroke, degrees=degrees) if stroke.play is Hand.BASS else stroke
                for stroke in figure.strokes
            ),
        )
        for figure in style.figures
    )
    return replace(style, name=f"{style.name}:{variant}", figures=figures)


def parse_style(text: str, name: str) -> Style:
    """A style from TOML text; StyleError with all faults of the file at once."""
    try:
        data = tomllib.loads(text, parse_float=_decimal)
    except (ValueError, RecursionError) as error:
        raise StyleError(f"not a TOML file: {error}", source=name) from None
    reader = _Reader()
    style = reader.style(data, name)
    if reader.faults:
        count = len(reader.faults)
        raise StyleError(
            f"the style has {count} fault{'s' if count > 1 else ''}",
            "DEVELOPERS.md says how a style is written",
            source=name,
            faults=tuple(reader.faults),
        )
    return style


def _decimal(text: str) -> Fraction:
    if len(text) > 12 or "e" in text.lower():
        raise ValueError(f"the number {text[:20]} is out of range")
    return Fraction(text)


class _Reader:
    """Checks a style's data key by key and keeps every fault."""

    def __init__(self) -> None:
        self.faults: list[str] = []

    def fault(self, path: str, message: str) -> None:
        self.faults.append(f"{path}: {message}" if path else message)

    def style(self, data: dict[str, Any], name: str) -> Style:
        self.known(data, "", ("title", "use", "harmony", "thirds", "figure", "variant"))
        harmony = self.word(data, "harmony", ("chords", "tonic"), "chords")
        figures = tuple(
            self.figure(item, f"figure[{index}]")
            for index, item in enumerate(self.tables(data, "figure"))
        )
        if figures and all(figure.metres for figure in figures):
            self.fault("figure", 'one figure must be for metres = "any"')
        return Style(
            name=name,
            title=self.text(data, "title"),
            use=self.text(data, "use"),
            figures=figures,
            from_key=harmony == "tonic",
            thirds=self.flag(data, "thirds"),
            variants=self.variants(data),
        )

    def figure(self, data: dict[str, Any], path: str) -> Figure:
        self.known(data, path, ("metres", "strokes"))
        return Figure(
            self.metres(data.get("metres", "any"), f"{path}.metres"),
            tuple(
                self.stroke(item, f"{path}.strokes[{index}]")
                for index, item in enumerate(self.tables(data, "strokes", path))
            ),
        )

    def stroke(self, data: dict[str, Any], path: str) -> Stroke:
        self.known(data, path, ("when", "after", "play", "degree", "hold", "strength"))
        play = self.word(data, "play", tuple(Hand), None, path)
        when, beats = self.when(data.get("when"), f"{path}.when")
        if "degree" in data and play == Hand.CHORD:
            self.fault(f"{path}.degree", "only a bass has a degree")
        hold = data.get("hold", 1)
        return Stroke(
            when=when,
            play=Hand(play) if play else Hand.BASS,
            beats=beats,
            after=(
                None
                if data.get("after") == "off"
                else self.share(data.get("after", 0), f"{path}.after", Fraction(0), below=True)
            ),
            degrees=self.degrees(data.get("degree", 1), f"{path}.degree"),
            hold=(
                None
                if hold == "until change"
                else self.share(hold, f"{path}.hold", Fraction(1, 100))
            ),
            strength=self.percent(data.get("strength", 100), f"{path}.strength"),
        )

    def variants(self, data: dict[str, Any]) -> tuple[tuple[str, tuple[int, ...]], ...]:
        table = data.get("variant", {})
        if not isinstance(table, dict):
            self.fault("variant", "expected tables like [variant.fifths]")
            return ()
        found = []
        for name, entry in table.items():
            path = f"variant.{name}"
            if not isinstance(entry, dict) or "bass" not in entry:
                self.fault(path, "expected bass = [degrees by turns]")
                continue
            self.known(entry, path, ("bass",))
            found.append((name, self.degrees(entry["bass"], f"{path}.bass")))
        return tuple(found)

    # -- single values ----------------------------------------------------------

    def known(self, data: dict[str, Any], path: str, keys: tuple[str, ...]) -> None:
        for key in data:
            if key not in keys:
                where = f"{path}.{key}" if path else key
                self.fault(where, f"unknown key; {did_you_mean(key, keys) or 'left out?'}")

    def tables(self, data: dict[str, Any], key: str, path: str = "") -> list[dict[str, Any]]:
        where = f"{path}.{key}" if path else key
        items = data.get(key)
        if not isinstance(items, list) or not items:
            self.fault(where, "missing" if items is None else "expected a list of tables")
            return []
        good = [item for item in items if isinstance(item, dict)]
        if len(good) != len(items):
            self.fault(where, "expected a list of tables")
        return good

    def text(self, data: dict[str, Any], key: str) -> str:
        value = data.get(key)
        if not isinstance(value, str) or not value.strip():
            self.fault(key, "missing" if value is None else "expected a text")
            return ""
        return " ".join(value.split())

    def flag(self, data: dict[str, Any], key: str) -> bool:
        value = data.get(key, True)
        if not isinstance(value, bool):
            self.fault(key, "expected true or false")
            return True
        return value

    def word(
        self,
        data: dict[str, Any],
        key: str,
        words: tuple[str, ...],
        default: str | None,
        path: str = "",
    ) -> str | None:
        where = f"{path}.{key}" if path else key
        value = data.get(key, default)
        if value in words:
            return str(value)
        if value is None:
            self.fault(where, "missing")
        else:
            self.fault(where, f"expected {' or '.join(words)}, got {value!r}")
        return None

    def when(self, value: object, path: str) -> tuple[When, tuple[int, ...]]:
        words = [word.value for word in When if word is not When.BEATS]
        if isinstance(value, str):
            if value in words:
                return When(value), ()
            if match := _WHEN.match(value):
                beats = tuple(int(part) for part in re.findall(r"\d+", match[1]))
                if all(1 <= beat <= _MOST_BEATS for beat in beats):
                    return When.BEATS, beats
        said = "missing" if value is None else f"got {value!r}"
        near = did_you_mean(str(value), words)
        self.fault(path, f'expected "beat 1", "beats 2 and 3", {", ".join(words)}; {near or said}')
        return When.EACH, ()

    def metres(self, value: object, path: str) -> tuple[str, ...]:
        if value == "any":
            return ()
        if not isinstance(value, list) or not value:
            self.fault(path, 'expected "any" or a list like ["3/4", "3/2"]')
            return ()
        for metre in value:
            try:
                parse_metre(str(metre))
            except ValueError as error:
                self.fault(path, str(error))
        return tuple(str(metre) for metre in value)

    def degrees(self, value: object, path: str) -> tuple[int, ...]:
        items = value if isinstance(value, list) else [value]
        for item in items:
            if not isinstance(item, int) or isinstance(item, bool) or not 1 <= item <= 8:
                self.fault(path, f"expected 1 to 8, got {item!r}")
                return (1,)
        if not items:
            self.fault(path, "expected a degree")
        return tuple(items) or (1,)

    def share(self, value: object, path: str, least: Fraction, *, below: bool = False) -> Fraction:
        number = isinstance(value, int | Fraction) and not isinstance(value, bool)
        ratio = isinstance(value, str) and bool(_RATIO.fullmatch(value))
        share = Fraction(str(value)) if number or ratio else None
        if share is None or not least <= share <= 1 or (below and share == 1):
            said = f"got {float(value) if isinstance(value, Fraction) else value!r}"
            self.fault(path, f'expected a share like "1/2", {said}')
            return least
        return share

    def percent(self, value: object, path: str) -> int:
        if isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= 120:
            return value
        self.fault(path, f"expected 1 to 120 per cent, got {value!r}")
        return 100
