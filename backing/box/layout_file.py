"""A box from its file: every key read, every fault kept with its path.

A layout file is TOML, in a player's terms::

    name = "D/G"
    title = "Two rows in D and G"
    outer = ["G#4 A#4", "A3 C#4"]       # from the chin: what sounds on the push, on the pull
    inner = ["F5 D#5", "D4 F#4"]        # none on a one-row
    left = [{ pair = "outer upper", push = "D", pull = "A" }]   # a chord and its bass
    thirds = true
    lowest-bass = "E2"                  # the octave of reeds that the bass begins in
    lowest-chord = "G3"                 # the lowest note that chords are folded to

    [variant.low-notes]                 # asked for as D/G:low-notes
    use = "Low notes at the chin end."
    outer = { 1 = "F#3 A3" }            # a button's notes; left = { "inner upper" = "Bm Em" }
    without = ["inner 10"]              # buttons that it lacks; also thirds, octave
"""

import re
from typing import Any

from backing.box.layout import ROWS, Button, Layout, LeftButton, Variant, pair_of, with_accidentals
from backing.data.file_kind import FileKind
from backing.data.key_path import KeyPath, shown
from backing.data.reader import DataReader
from backing.errors import BoxError
from backing.music.chord import NO_CHORD, Chord, parse_chord
from backing.music.pitch import parse_pitch

_KEYS = (
    "name", "title", "outer", "inner", "left", "thirds", "lowest-bass", "lowest-chord", "variant",
)  # fmt: skip
_VARIANT_KEYS = ("use", "outer", "inner", "left", "without", "thirds", "octave")
_BUTTON = re.compile(r"(outer|inner) ([0-9]{1,2})$")
_NUMBER = re.compile(r"[0-9]{1,2}$")
_MOST_BUTTONS = 30
_UNKNOWN = -1  # stands for a note at fault
#: Working values, from memory: no table of left-hand reeds is published.
_LOWEST_BASS, _LOWEST_CHORD = "E2", "G3"


_PAIRS = 'pairs like { pair = "outer upper", push = "D", pull = "A" }'

BOX = FileKind(
    noun="box",
    error=BoxError,
    pattern="backing boxes D/G --file prints a box, as a pattern",
    items={
        "outer": "button of the outer row",
        "inner": "button of the inner row",
        "left": "pair of the left hand",
    },
)


def parse_layout(text: str, name: str) -> Layout:
    """A box from TOML text; BoxError with all faults of the file at once."""
    reader = _LayoutReader(text, name)
    layout = reader.layout(name)
    reader.check()
    return layout


class _LayoutReader(DataReader):
    """Checks a layout's data key by key and keeps every fault."""

    kind = BOX

    def layout(self, name: str) -> Layout:
        #: How the file spells each note.
        self.names: dict[int, str] = {}
        data = self.data
        self.known(data, (), _KEYS)
        rows = [self.row(data[key], (key,), at) for at, key in enumerate(ROWS) if key in data]
        if "outer" not in data:
            self.fault(("outer",), "missing; it lists what each button sounds, from the chin")
        self.alike(rows)
        return Layout(
            name=self.text(data, "name") or name,
            title=self.text(data, "title"),
            rows=with_accidentals(rows),
            left=self.left(data),
            thirds=self.flag(data, "thirds"),
            lowest_bass=self.register(data, "lowest-bass", _LOWEST_BASS),
            lowest_chord=self.register(data, "lowest-chord", _LOWEST_CHORD),
            names=self.names,
            variants=self.variants(data.get("variant", {}), rows),
        )

    def row(self, cells: object, path: KeyPath, row: int) -> list[Button]:
        if not isinstance(cells, list) or not cells:
            self.fault(path, 'expected buttons like ["A3 C#4", "D4 E4"], from the chin')
            return []
        if len(cells) > _MOST_BUTTONS:
            self.fault(path, f"{len(cells)} buttons in a row; at most {_MOST_BUTTONS}")
            return []
        found = []
        for at, cell in enumerate(cells):
            push, pull = self.notes(cell, (*path, at))
            found.append(Button(row, at + 1, push, pull))
        return found

    def notes(self, cell: object, path: KeyPath) -> tuple[int, int]:
        words = cell.split() if isinstance(cell, str) else []
        if len(words) != 2:
            missing = "; a direction is missing" if len(words) == 1 else ""
            self.fault(path, f'expected push and pull like "A3 C#4", got {shown(cell)}{missing}')
            return _UNKNOWN, _UNKNOWN
        return self.pitch(words[0], path), self.pitch(words[1], path)

    def pitch(self, word: str, path: KeyPath) -> int:
        try:
            midi = parse_pitch(word).midi if len(word) < 6 else -1
        except ValueError as error:
            self.fault(path, str(error))
            return _UNKNOWN
        if not 0 <= midi <= 127:
            self.fault(path, f"{shown(word)} is out of range")
            return _UNKNOWN
        self.names.setdefault(midi, word)
        return midi

    def register(self, data: dict[str, Any], key: str, usual: str) -> int:
        value = data.get(key, usual)
        if isinstance(value, str):
            return self.pitch(value, (key,))
        self.fault((key,), f'expected a note like "{usual}", got {shown(value)}')
        return _UNKNOWN

    def alike(self, rows: list[list[Button]]) -> None:
        """Faults between the rows: very unequal ones, a button given twice."""
        if len(rows) == 2 and rows[0] and rows[1] and abs(len(rows[0]) - len(rows[1])) > 2:
            self.fault(
                ("inner",), f"{len(rows[1])} buttons beside {len(rows[0])} in the outer row; "
                "rows differ by one, seldom by two"
            )  # fmt: skip
        for key, row in zip(ROWS, rows, strict=False):
            seen: dict[tuple[int, int], int] = {}
            for button in row:
                notes = (button.push, button.pull)
                if notes in seen and _UNKNOWN not in notes:
                    self.fault(
                        (key, button.number - 1),
                        f"the same as button {seen[notes]}; is one given twice?",
                    )
                seen.setdefault(notes, button.number)

    # -- the left hand ----------------------------------------------------------

    def left(self, data: dict[str, Any]) -> tuple[LeftButton, ...]:
        found: list[LeftButton] = []
        for path, item in self.tables(data, "left", (), _PAIRS):
            self.known(item, path, ("pair", "push", "pull"))
            pair = self.text(item, "pair", path)
            if pair and pair in {button.pair for button in found}:
                self.fault((*path, "pair"), f"{shown(pair)} is given twice")
            push, pull = (self.chord(item.get(key), (*path, key)) for key in ("push", "pull"))
            found += pair_of(pair, push, pull)
        return tuple(found)

    def chord(self, value: object, path: KeyPath) -> Chord:
        if not isinstance(value, str):
            missing = "; a direction is missing" if value is None else f", got {shown(value)}"
            self.fault(path, f"expected a chord like D, Em or B5{missing}")
            return Chord()
        try:
            chord = parse_chord(value)
        except ValueError:
            chord = NO_CHORD
        if chord.silent or chord.bass:
            self.fault(path, f"expected a chord like D, Em or B5, got {shown(value)}")
            return Chord()
        return chord

    # -- variants ---------------------------------------------------------------

    def variants(self, data: object, rows: list[list[Button]]) -> tuple[Variant, ...]:
        tables = self.table(data, ("variant",), "tables like [variant.low-notes]")
        return tuple(self.variant(name, entry, rows) for name, entry in tables.items())

    def variant(self, name: str, value: object, rows: list[list[Button]]) -> Variant:
        path = ("variant", name)
        if not isinstance(value, dict):
            self.fault(path, f"expected a table like [variant.low-notes], got {shown(value)}")
            return Variant(name, "")
        data: dict[str, Any] = value
        self.known(data, path, _VARIANT_KEYS)
        octave = data.get("octave", 0)
        if type(octave) is not int or abs(octave) > 1:
            self.fault((*path, "octave"), f"expected -1 or 1, got {shown(octave)}")
            octave = 0
        return Variant(
            name,
            self.text(data, "use", path),
            tuple(self.changes(data, path, rows)),
            tuple(self.left_changes(data.get("left", {}), (*path, "left"))),
            tuple(self.lacking(data.get("without", []), (*path, "without"), rows)),
            self.flag(data, "thirds", path) if "thirds" in data else None,
            octave,
        )

    def changes(
        self, data: dict[str, Any], path: KeyPath, rows: list[list[Button]]
    ) -> list[tuple[int, int, int, int]]:
        found = []
        for row, key in enumerate(ROWS):
            entries = self.table(data.get(key, {}), (*path, key), 'buttons like { 1 = "A3 C#4" }')
            for number, cell in entries.items():
                where = (*path, key, number)
                if not (_NUMBER.match(number) and _there(rows, row, int(number))):
                    self.fault(where, f"the {key} row has no button {shown(number)}")
                    continue
                found.append((row, int(number), *self.notes(cell, where)))
        return found

    def left_changes(self, data: object, path: KeyPath) -> list[tuple[str, Chord, Chord]]:
        found: list[tuple[str, Chord, Chord]] = []
        for pair, cell in self.table(data, path, 'pairs like { "outer" = "D A" }').items():
            where = (*path, pair)
            words = cell.split() if isinstance(cell, str) else []
            if len(words) != 2:
                self.fault(where, f'expected push and pull like "Bm Em", got {shown(cell)}')
                continue
            push, pull = (self.chord(word, where) for word in words)
            found.append((pair, push, pull))
        return found

    def lacking(
        self, data: object, path: KeyPath, rows: list[list[Button]]
    ) -> list[tuple[int, int]]:
        found = []
        for at, item in enumerate(data if isinstance(data, list) else [data]):
            where = (*path, at) if isinstance(data, list) else path
            match = _BUTTON.match(item) if isinstance(item, str) else None
            if match is None or not _there(rows, ROWS.index(match[1]), int(match[2])):
                self.fault(where, f'expected buttons like "outer 10", got {shown(item)}')
                continue
            found.append((ROWS.index(match[1]), int(match[2])))
        for at, row in enumerate(rows):
            if row and all((at, button.number) in found for button in row):
                self.fault(path, f"nothing is left of the {ROWS[at]} row")
        return found


def _there(rows: list[list[Button]], row: int, number: int) -> bool:
    """Whether there is such a button."""
    return row < len(rows) and 1 <= number <= len(rows[row])
