"""Which key asks for what, as a table: in a window in place of the music, page by page."""

from collections.abc import Sequence

from backing.cli.flow import columns_wide, wrapped
from backing.live.actions import OF_STEPS, Action
from backing.live.controls import KeysAndPedals, midi_name

_KEY_NAMES = {"up": "↑", "down": "↓", "left": "←", "right": "→"}
#: Columns between keys and action, and between two columns of the table.
_GAP, _WIDE_GAP = 2, 4
_BACK = "any key: back to the music"
_MORE = "?: more keys, any other: back to the music"

#: Keys, and what they ask for.
KeyRow = tuple[str, str]


def key_rows(controls: KeysAndPedals, *, pedals: bool = False, steps: bool = True) -> list[KeyRow]:
    """Which keys, and which pedals, ask for what; those for steps only where there are some."""
    rows = []
    for action in Action:
        if action in OF_STEPS and not steps:
            continue
        names = [_KEY_NAMES.get(k, k) for k, asked in controls.keys.items() if asked is action]
        if pedals:
            names += [midi_name(place) for place, a in controls.midi.items() if a is action]
        if names:
            rows.append((", ".join(names), str(action)))
    return rows


def key_table(rows: Sequence[KeyRow]) -> str:
    """The table as lines that are told."""
    return "\n".join(f"  {names:<22}{action}" for names, action in rows)


def key_pages(rows: Sequence[KeyRow], columns: int, lines: int) -> list[list[str]]:
    """The table as pages that fit into a window; the last line says how to leave it."""
    lines = max(lines - 1, 1)
    for count in (1, 2, 3):
        found = _side_by_side(rows, -(-len(rows) // count))
        if len(found) <= lines and max(map(columns_wide, found), default=0) <= columns:
            return [[*found, *wrapped([_BACK], columns)[:1]]]
    found = [line for row in rows for line in _narrow(row, columns)]
    pages = [found[at : at + lines] for at in range(0, len(found), lines)]
    ends = [*[_MORE] * (len(pages) - 1), _BACK]
    return [[*page, wrapped([end], columns)[0]] for page, end in zip(pages, ends, strict=True)]


def _side_by_side(rows: Sequence[KeyRow], high: int) -> list[str]:
    """The table in columns of so many rows."""
    lines = [""] * high
    for at in range(0, len(rows), high):
        part = rows[at : at + high]
        wide = max(map(columns_wide, lines)) + (_WIDE_GAP if at else 0)
        names = max(columns_wide(keys) for keys, _ in part) + _GAP
        for place, (keys, action) in enumerate(part):
            line = lines[place] + " " * (wide - columns_wide(lines[place]))
            lines[place] = line + keys + " " * (names - columns_wide(keys)) + action
    return lines


def _narrow(row: KeyRow, columns: int) -> list[str]:
    """A row of the table; where it is too wide, what it asks for stands below."""
    keys, action = row
    names = max(columns // 2 - _GAP, 1)
    if columns_wide(keys) <= names and columns_wide(action) <= columns - names - _GAP:
        return [keys + " " * (names + _GAP - columns_wide(keys)) + action]
    return wrapped([keys, f"  {action}"], columns)
