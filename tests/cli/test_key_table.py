"""The table of keys."""

import pytest

from backing.cli.flow import columns_wide
from backing.cli.key_table import key_pages, key_rows, key_table
from backing.live.actions import OF_STEPS, Action
from backing.live.controls import CONTROLS

ROWS = key_rows(CONTROLS)


def test_the_table_of_keys_names_every_action_once():
    """Each action stands in a line of its own, after all its keys."""
    rows = key_table(ROWS).splitlines()
    assert len(rows) == len(Action)
    assert rows[0] == "  space, page down      stop and go"
    assert "  ↓, -                  slower" in rows
    assert "  f                     from here" in rows


def test_keys_for_steps_stand_there_where_there_are_some():
    """A practice of one step has no keys for steps."""
    assert [action for _, action in ROWS if action in OF_STEPS] == sorted(
        OF_STEPS, key=list(Action).index
    )
    assert not OF_STEPS & {action for _, action in key_rows(CONTROLS, steps=False)}


def test_pedals_stand_beside_the_keys():
    """Where a MIDI pedal is listened to, the table says what each does: sustain (controller 64),
    sostenuto (66) and soft (67), by the MIDI 1.0 table of controllers; what each of them
    does is a working choice, no source."""
    rows = key_rows(CONTROLS, pedals=True)
    told = {keys.split("controller ")[1]: action for keys, action in rows if "controller" in keys}
    assert told == {"64": Action.STOP_GO, "66": Action.AGAIN, "67": Action.THIS_BAR}


@pytest.mark.parametrize("size", [(79, 24), (59, 20), (199, 60), (119, 14), (39, 12), (24, 5)])
@pytest.mark.parametrize("pedals", [False, True])
def test_every_key_stands_on_a_page_that_fits(size, pedals):
    """In any window every row of the table is on a page, no page is too large, and its last line
    says how to leave it."""
    columns, lines = size
    rows = key_rows(CONTROLS, pedals=pedals)
    pages = key_pages(rows, columns, lines)
    assert all(len(page) <= lines for page in pages)
    assert all(columns_wide(line) <= columns for page in pages for line in page)
    shown = " ".join(" ".join(line.split()) for page in pages for line in page[:-1])
    for _, action in rows:
        assert action in shown
    assert all(page[-1].startswith("?: more keys"[:columns]) for page in pages[:-1])
    assert pages[-1][-1].startswith("any key")


def test_a_large_window_needs_one_page():
    """In 80 columns and 24 lines all keys of a practice of one step stand on one page."""
    assert len(key_pages(key_rows(CONTROLS, steps=False), 79, 24)) == 1
    assert len(key_pages(ROWS, 119, 16)) == 1
