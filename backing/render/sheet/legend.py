"""What the signs on a page mean, for its foot: only those that stand on it."""

from collections.abc import Iterator
from typing import Any

from backing.box.fit import Fit
from backing.box.grace_notes import grace_changes
from backing.box.layout import Layout, LeftButton
from backing.box.left_signs import NOTHING_AT_HAND, left_signs
from backing.box.under_notes import NO_BUTTON, under_notes
from backing.box.words import grace_said, row_name
from backing.language.tables import ENGLISH, text_in
from backing.music.saying import Fact, NoteName, Parts, said_in
from backing.music.tune import Tune
from backing.render.sheet.look import SheetLook

#: No more kinds of grace notes than this are named.
_MOST_GRACES = 3
#: A sign, and what it means.
_Sign = tuple[str, Fact | Parts]


def legend_of(tune: Tune, found: Fit, look: SheetLook) -> list[tuple[str, str]]:
    """Each sign on a page for a box, and what it means."""
    signs = list(_buttons(tune, found, look)) if look.buttons else []
    if look.kind == "staff" and look.buttons:
        signs += _graces(found, look.language)
    if look.kind == "strip":
        signs.append(("5 —", Fact("legend-held")))
    if look.kind == "staff" and look.fingers:
        signs.append(("1 2 3 4", Fact("legend-finger")))
    if look.kind == "staff" and look.air and not found.bellows.steady:
        signs.append((text_in(look.language, "air"), Fact("legend-air")))
    if look.kind == "staff" and look.hard:
        signs.append(("[12]", Fact("legend-hard")))
    return [(sign, said_in(meaning, look.language)) for sign, meaning in signs]


def _buttons(tune: Tune, found: Fit, look: SheetLook) -> Iterator[_Sign]:
    layout = found.layout
    said = {sign for bar in under_notes(tune, found.fingering) for under in bar for sign in under}
    left = {sign.text for bar in left_signs(tune, found.fingering) for sign in bar}
    if len(layout.rows) > 1:
        outer, inner = (NoteName(row_name(layout, row)) for row in (0, 1))
        yield "6  6'", Fact("legend-rows", {"outer": outer, "inner": inner})
    else:
        yield "6", Fact("legend-row")
    yield ", ".join(look.ways), Fact("legend-ways")
    if any("+" in sign for sign in said):
        yield "3+5", Fact("legend-both")
    if NO_BUTTON in said:
        yield NO_BUTTON, Fact("legend-no-button", {"box": layout.name})
    whole = next((sign for sign in sorted(left) if sign[0] != "("), "")
    if whole:
        buttons = whole.split()
        yield whole, Fact("legend-left", {"bass": buttons[0], "chord": buttons[-1]})
    instead = next((s for s in sorted(left) if s[0] == "(" and s != NOTHING_AT_HAND), "")
    if instead:
        yield instead, Fact("legend-instead")
    if NOTHING_AT_HAND in left:
        yield NOTHING_AT_HAND, Fact("legend-nothing")


def _graces(found: Fit, language: str) -> Iterator[_Sign]:
    """The grace notes that are not there in the direction of their note."""
    changes = list(grace_changes(found.fingering))
    said = [grace_said(change, found.line.key) for change in changes[:_MOST_GRACES]]
    more = len(changes) - _MOST_GRACES
    if more > 0:
        said.append(Fact("more-so", {"count": more}))
    if said:
        yield text_in(language, "grace"), Parts(tuple(said), "semicolon")


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
