"""What the signs on a page mean, for its foot: only those that stand on it."""

from collections.abc import Iterator
from functools import partial
from typing import Any

from backing.box.fit import Fit
from backing.box.grace_notes import grace_changes
from backing.box.layout import Layout, LeftButton
from backing.box.left_signs import NOTHING_AT_HAND, left_signs
from backing.box.under_notes import NO_BUTTON, under_notes
from backing.box.words import grace_said, row_name
from backing.language.tables import ENGLISH, name_in, text_in
from backing.music.saying import said_in
from backing.music.tune import Tune
from backing.render.sheet.look import SheetLook

#: No more kinds of grace notes than this are named.
_MOST_GRACES = 3


def legend_of(tune: Tune, found: Fit, look: SheetLook) -> list[tuple[str, str]]:
    """Each sign on a page for a box, and what it means."""
    means = partial(text_in, look.language)
    buttons = list(_buttons(tune, found, look)) if look.buttons else []
    if look.kind == "staff" and look.buttons:
        buttons += _graces(found, look.language)
    marks = []
    if look.kind == "strip":
        marks.append(("5 —", means("legend-held")))
    if look.kind == "staff" and look.fingers:
        marks.append(("1 2 3 4", means("legend-finger")))
    if look.kind == "staff" and look.air and not found.bellows.steady:
        marks.append((means("air"), means("legend-air")))
    if look.kind == "staff" and look.hard:
        marks.append(("[12]", means("legend-hard")))
    return [*buttons, *marks]


def _buttons(tune: Tune, found: Fit, look: SheetLook) -> Iterator[tuple[str, str]]:
    layout, means = found.layout, partial(text_in, look.language)
    said = {sign for bar in under_notes(tune, found.fingering) for under in bar for sign in under}
    left = {sign.text for bar in left_signs(tune, found.fingering) for sign in bar}
    if len(layout.rows) > 1:
        outer, inner = (
            name_in(look.language, "note-names", row_name(layout, row)) for row in (0, 1)
        )
        yield "6  6'", means("legend-rows").format(outer=outer, inner=inner)
    else:
        yield "6", means("legend-row")
    yield ", ".join(look.ways), means("legend-ways")
    if any("+" in sign for sign in said):
        yield "3+5", means("legend-both")
    if NO_BUTTON in said:
        yield NO_BUTTON, means("legend-no-button").format(box=layout.name)
    whole = next((sign for sign in sorted(left) if sign[0] != "("), "")
    if whole:
        buttons = whole.split()
        yield whole, means("legend-left").format(bass=buttons[0], chord=buttons[-1])
    instead = next((s for s in sorted(left) if s[0] == "(" and s != NOTHING_AT_HAND), "")
    if instead:
        yield instead, means("legend-instead")
    if NOTHING_AT_HAND in left:
        yield NOTHING_AT_HAND, means("legend-nothing")


def _graces(found: Fit, language: str) -> Iterator[tuple[str, str]]:
    """The grace notes that are not there in the direction of their note."""
    changes = list(grace_changes(found.fingering))
    said = [said_in(grace_said(each, found.line.key), language) for each in changes[:_MOST_GRACES]]
    more = len(changes) - _MOST_GRACES
    if more > 0:
        said.append(text_in(language, "more-so").format(count=more))
    if said:
        yield text_in(language, "grace"), text_in(language, "semicolon").join(said)


def board_of(layout: Layout, language: str = ENGLISH) -> list[dict[str, Any]]:
    """The left hand's buttons, column by column from the chin: what each sounds on the push,
    then on the pull."""
    columns: dict[str, list[LeftButton]] = {}
    for button in layout.left:
        column = button.pair.split()[0] if " " in button.pair else ""
        columns.setdefault(column, []).append(button)
    return [
        {
            "name": name and text_in(language, name),
            "buttons": [list(_sounds(button)) for button in buttons],
        }
        for name, buttons in columns.items()
    ]


def _sounds(button: LeftButton) -> Iterator[str]:
    for chord in (button.push, button.pull):
        if button.hand == "bass":
            yield str(chord._replace(kind="major", bass=None))
        else:
            yield str(chord)[:1].lower() + str(chord)[1:]
