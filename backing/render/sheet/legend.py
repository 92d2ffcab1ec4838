"""What the signs on a page mean, for its foot: only those that stand on it."""

from collections.abc import Iterator
from typing import Any

from backing.box.fit import Fit
from backing.box.grace_notes import grace_changes
from backing.box.layout import Layout, LeftButton
from backing.box.left_signs import NOTHING_AT_HAND, left_signs
from backing.box.under_notes import NO_BUTTON, under_notes
from backing.box.words import grace_words, row_name
from backing.music.tune import Tune
from backing.render.sheet.look import SheetLook

#: No more kinds of grace notes than this are named.
_MOST_GRACES = 3


def legend_of(tune: Tune, found: Fit, look: SheetLook) -> list[tuple[str, str]]:
    """Each sign on a page for a box, and what it means."""
    buttons = list(_buttons(tune, found)) if look.buttons else []
    if look.kind == "staff" and look.buttons:
        buttons += _graces(found)
    marks = []
    if look.kind == "strip":
        marks.append(("5 —", "held as long as its line; each tick at the top is a beat"))
    if look.kind == "staff" and look.fingers:
        marks.append(("1 2 3 4", "the finger, 1 the index finger, where the hand moves"))
    if look.kind == "staff" and look.air and not found.bellows.steady:
        marks.append(("air", "press the air button here"))
    if look.kind == "staff" and look.hard:
        marks.append(("[12]", "one of the hardest bars: practise it first"))
    return [*buttons, *marks]


def _buttons(tune: Tune, found: Fit) -> Iterator[tuple[str, str]]:
    layout = found.layout
    said = {sign for bar in under_notes(tune, found.fingering) for under in bar for sign in under}
    left = {sign.text for bar in left_signs(tune, found.fingering) for sign in bar}
    if len(layout.rows) > 1:
        outer, inner = row_name(layout, 0), row_name(layout, 1)
        yield (
            "6  6'",
            f"button 6 of the outer row ({outer}), of the inner ({inner}); 1 is at the chin",
        )
    else:
        yield "6", "button 6, counted from the chin"
    yield "push, pull", "upper line: the bellows close; lower line: they open"
    if any("+" in sign for sign in said):
        yield "3+5", "both at once"
    if NO_BUTTON in said:
        yield NO_BUTTON, f"the {layout.name} has no button for this note"
    whole = next((sign for sign in sorted(left) if sign[0] != "("), "")
    if whole:
        yield whole, f"left hand: bass button {whole.split()[0]}, chord button {whole.split()[-1]}"
    instead = next((s for s in sorted(left) if s[0] == "(" and s != NOTHING_AT_HAND), "")
    if instead:
        yield instead, "in the place of a chord that is not there in this direction"
    if NOTHING_AT_HAND in left:
        yield NOTHING_AT_HAND, "nothing that fits is there in this direction: the left hand rests"


def _graces(found: Fit) -> Iterator[tuple[str, str]]:
    """The grace notes that are not there in the direction of their note."""
    words = [grace_words(change, found.line.key) for change in grace_changes(found.fingering)]
    more = len(words) - _MOST_GRACES
    if words:
        named = "; ".join(words[:_MOST_GRACES])
        yield "grace", f"{named}; {more} more so" if more > 0 else named


def board_of(layout: Layout) -> list[dict[str, Any]]:
    """The left hand's buttons, column by column from the chin: what each sounds on the push,
    then on the pull."""
    columns: dict[str, list[LeftButton]] = {}
    for button in layout.left:
        column = button.pair.split()[0] if " " in button.pair else ""
        columns.setdefault(column, []).append(button)
    return [
        {"name": name, "buttons": [list(_sounds(button)) for button in buttons]}
        for name, buttons in columns.items()
    ]


def _sounds(button: LeftButton) -> Iterator[str]:
    for chord in (button.push, button.pull):
        if button.hand == "bass":
            yield str(chord._replace(kind="major", bass=None))
        else:
            yield str(chord)[:1].lower() + str(chord)[1:]
