"""A style from its file: every key read, every fault kept with its path.

A style file is TOML; `DEVELOPERS.md` tells its keys.
"""

import re
from fractions import Fraction
from typing import Any

from backing.arranging.places import NOWHERE, Place, Places
from backing.arranging.style import (
    Degree,
    Figure,
    Goal,
    Hand,
    HandChange,
    Hold,
    Stroke,
    Style,
    StyleVariant,
    Titles,
    Tones,
    Until,
    When,
)
from backing.arranging.style_checks import faults_of
from backing.data.file_kind import FileKind
from backing.data.key_path import KeyPath, shown
from backing.data.reader import DataReader, plain_number
from backing.errors import StyleError, did_you_mean
from backing.language.tables import ENGLISH, LANGUAGES
from backing.music.dance import DANCES
from backing.music.metre import parse_metre
from backing.wording import either

_WHEN = re.compile(r"(?:bar (\d{1,3}) )?beats? (\d{1,3}(?:(?:, | and )\d{1,3})*)$")
_BAR_AND = re.compile(r"bar (\d{1,3}) (.*)$")
_RATIO = re.compile(r"\d{1,3}(/[1-9]\d{0,2})?")
_BEATS = re.compile(r"(\d{1,3}(?:/[1-9]\d{0,2})?) beats?$")
_MOST_BEATS, _MOST_BARS = 64, 16
_KEYS = (
    "title", "use", "harmony", "thirds", "fifths", "figure", "second-time", "variant", "titles",
)  # fmt: skip
_DANCES = tuple(dance.name for dance in DANCES)
_PLACES = tuple(place.value for place in Place)
_CHANGES = {
    Hand.BASS: ("degree", "hold", "strength"),
    Hand.CHORD: ("tones", "hold", "strength"),
}
_STROKES = 'strokes like [ { when = "beat 1", play = "bass" } ]'
_LANGUAGES = tuple(tag for tag in LANGUAGES if tag != ENGLISH)
_TITLES = 'titles like { de = "Walzer" }'
_VARIANT = "changes like bass = { degree = [1, 5] }"
_CHANGE = "changes like { degree = [1, 5] }"

STYLE = FileKind(
    noun="style",
    error=StyleError,
    pattern="backing styles alternating draws a style and names its file, as a pattern",
    items={"figure": "figure", "strokes": "stroke", "metres": "metre", "dances": "dance"},
)


def parse_style(text: str, name: str, source: str = "") -> Style:
    """A style from TOML text; StyleError with all faults of the file at once.

    `source` is what the file is called, where that is not the style's name.
    """
    reader = _StyleReader(text, source or name)
    style = reader.style(name)
    if not reader.faults:
        reader.faults += faults_of(style)
    reader.check()
    return style


def parse_shipped_style(text: str, name: str) -> Style:
    """One of our own styles: what its strokes do together was checked before."""
    reader = _StyleReader(text, name)
    style = reader.style(name)
    reader.check()
    return style


class _StyleReader(DataReader):
    """Checks a style's data key by key and keeps every fault."""

    kind = STYLE

    def style(self, name: str) -> Style:
        data = self.data
        self.known(data, (), _KEYS)
        harmony = self.word(data.get("harmony", "chords"), ("harmony",), ("chords", "tonic"))
        return Style(
            name=name,
            figures=tuple(
                self.figure(item, path)
                for path, item in self.tables(data, "figure", (), "tables like [[figure]]")
            ),
            title=self.text(data, "title"),
            use=self.text(data, "use"),
            from_key=harmony == "tonic",
            thirds=self.flag(data, "thirds"),
            fifths=self.flag(data, "fifths"),
            second=self.second(data),
            variants=self.variants(data),
            titles=self.titles(data, ()),
        )

    def titles(self, data: dict[str, Any], path: KeyPath) -> Titles:
        """What it is called in other languages."""
        at = (*path, "titles")
        table = self.table(data.get("titles", {}), at, _TITLES)
        self.known(table, at, _LANGUAGES)
        return tuple((tag, self.text(table, tag, at)) for tag in table if tag in _LANGUAGES)

    def figure(self, data: dict[str, Any], path: KeyPath) -> Figure:
        self.known(data, path, ("metres", "dances", "only", "never", "bars", "strokes"))
        return Figure(
            metres=self.metres(data.get("metres", "any"), (*path, "metres")),
            dances=self.words(data.get("dances", []), (*path, "dances"), _DANCES),
            only=self.places(data, "only", path),
            never=self.places(data, "never", path),
            bars=self.whole(data.get("bars", 1), (*path, "bars"), 1, _MOST_BARS, "bars"),
            strokes=tuple(
                self.stroke(item, at) for at, item in self.tables(data, "strokes", path, _STROKES)
            ),
        )

    def stroke(self, data: dict[str, Any], path: KeyPath) -> Stroke:
        keys = ("when", "after", "play", "degree", "tones", "hold", "strength", "only", "never")
        self.known(data, path, keys)
        play = self.word(data.get("play"), (*path, "play"), tuple(Hand))
        bar, when, beats = self.when(data.get("when"), (*path, "when"))
        if "degree" in data and play == Hand.CHORD:
            self.fault((*path, "degree"), "only a bass has a degree")
        if "tones" in data and play == Hand.BASS:
            self.fault((*path, "tones"), "only a chord has tones")
        return Stroke(
            when=when,
            play=Hand(play) if play else Hand.BASS,
            beats=beats,
            bar=bar,
            after=self.after(data.get("after", 0), (*path, "after")),
            degrees=self.degrees(data.get("degree", 1), (*path, "degree")),
            tones=self.tones(data, path) or Tones.ALL,
            hold=self.hold(data.get("hold", 1), (*path, "hold")),
            strength=self.strength(data, path),
            only=self.places(data, "only", path),
            never=self.places(data, "never", path),
        )

    def second(self, data: dict[str, Any]) -> StyleVariant | None:
        """What changes the second time."""
        path: KeyPath = ("second-time",)
        if "second-time" not in data:
            return None
        entry = self.table(data["second-time"], path, _VARIANT)
        self.known(entry, path, ("use", "bass", "chord"))
        use = self.text(entry, "use", path) if "use" in entry else ""
        changes = (self.change(entry.get(hand, {}), hand, (*path, hand)) for hand in Hand)
        return StyleVariant("second-time", use, (), *changes)

    def variants(self, data: dict[str, Any]) -> tuple[StyleVariant, ...]:
        tables = self.table(data.get("variant", {}), ("variant",), "tables like [variant.fifths]")
        found = []
        for name, entry in tables.items():
            path = ("variant", name)
            if not isinstance(entry, dict) or not {"bass", "chord"} & entry.keys():
                self.fault(path, f"expected {_VARIANT}")
                continue
            self.known(entry, path, ("titles", "use", "bass", "chord"))
            use = self.text(entry, "use", path) if "use" in entry else ""
            changes = (self.change(entry.get(hand, {}), hand, (*path, hand)) for hand in Hand)
            found.append(StyleVariant(name, use, self.titles(entry, path), *changes))
        return tuple(found)

    def change(self, value: object, hand: Hand, path: KeyPath) -> HandChange:
        data = self.table(value, path, _CHANGE)
        self.known(data, path, _CHANGES[hand])
        return HandChange(
            degrees=self.degrees(data["degree"], (*path, "degree")) if "degree" in data else None,
            tones=self.tones(data, path),
            hold=self.hold(data["hold"], (*path, "hold")) if "hold" in data else None,
            strength=self.strength(data, path),
        )

    # -- single values ----------------------------------------------------------

    def places(self, data: dict[str, Any], key: str, path: KeyPath) -> Places:
        words = self.words(data.get(key, []), (*path, key), _PLACES)
        return frozenset(Place(word) for word in words) or NOWHERE

    def tones(self, data: dict[str, Any], path: KeyPath) -> Tones | None:
        if "tones" not in data:
            return None
        word = self.word(data["tones"], (*path, "tones"), tuple(Tones))
        return Tones(word) if word else None

    def when(self, value: object, path: KeyPath) -> tuple[int, When, tuple[int, ...]]:
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
        said = "missing" if value is None else f"unknown: {shown(value)}"
        near = did_you_mean(value[:40], words) if isinstance(value, str) else ""
        expected = either(["beat 1", "beats 2 and 3", "bar 2 beat 1", *words])
        self.fault(path, f"{said}; {near or f'expected {expected}'}")
        return 0, When.EACH, ()

    def metres(self, value: object, path: KeyPath) -> tuple[str, ...]:
        if value == "any":
            return ()
        if not isinstance(value, list) or not value:
            said = 'expected "any" or a list like ["3/4", "3/2"]'
            self.fault(path, f"{said}, got {shown(value)}")
            return ()
        found = [self.metre(metre, (*path, at)) for at, metre in enumerate(value)]
        return tuple(metre for metre in found if metre)

    def metre(self, value: object, path: KeyPath) -> str:
        """A metre as it is felt; nothing at a fault."""
        try:
            feel = parse_metre(value if isinstance(value, str) else "").feel
        except ValueError:
            self.fault(path, f'expected a metre like "3/4", got {shown(value)}')
            return ""
        if feel != value:
            self.fault(path, f"{shown(value)} is felt in {feel}; write that")
        return feel

    def degrees(self, value: object, path: KeyPath) -> tuple[Degree, ...]:
        if not isinstance(value, list):
            return (self.degree(value, path),)
        if not value:
            self.fault(path, "expected a degree")
            return (1,)
        if Goal.TONIC in value and len(value) > 1:
            self.fault(path, '"tonic" stands alone: it goes by the key, the others by the chord')
        return tuple(self.degree(item, (*path, at)) for at, item in enumerate(value))

    def degree(self, value: object, path: KeyPath) -> Degree:
        if isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= 8:
            return value
        if value in tuple(Goal):
            return Goal(str(value))
        self.fault(path, f"expected 1 to 8, {either(Goal)}, got {shown(value)}")
        return 1

    def hold(self, value: object, path: KeyPath) -> Hold:
        if value in (Until.BAR_LINE, Until.CHANGE):
            return Hold(Until(str(value)))
        if isinstance(value, str) and (match := _BEATS.match(value)):
            amount = Fraction(match[1])
            if 0 < amount <= _MOST_BEATS:
                return Hold(Until.BEATS, amount)
            said = f"expected more than 0 and up to {_MOST_BEATS} beats"
            self.fault(path, f"{said}, got {shown(value)}")
            return Hold()
        says = 'a share like "1/2", "2 beats", "until bar line" or "until change"'
        return Hold(amount=self.share(value, path, Fraction(1, 100), says=says))

    def after(self, value: object, path: KeyPath) -> Fraction | None:
        if value == "off":
            return None
        return self.share(value, path, Fraction(0), below=True)

    def share(
        self,
        value: object,
        path: KeyPath,
        least: Fraction,
        *,
        below: bool = False,
        says: str = 'a share like "1/2"',
    ) -> Fraction:
        share = _share(value)
        if share is None or not least <= share <= 1 or (below and share == 1):
            self.fault(path, f"expected {says}, got {shown(value)}")
            return least
        return share

    def strength(self, data: dict[str, Any], path: KeyPath) -> int:
        return self.whole(data.get("strength", 100), (*path, "strength"), 1, 120, "per cent")


def _share(value: object) -> Fraction | None:
    """A number, or a ratio in a text; None for anything else."""
    if isinstance(value, str):
        return Fraction(value) if _RATIO.fullmatch(value) else None
    return plain_number(value)
