"""What keys and pedals ask for, and a player's own file of them."""

import pytest

from backing.errors import DataError
from backing.live.actions import Action
from backing.live.controls import CONTROLS, NAMED_KEYS, Pedals, parse_controls

ACTIONS = f"the actions are: {', '.join(Action)}"


def faults(text):
    """The faults of a file that is refused; its hint lists the actions."""
    with pytest.raises(DataError) as caught:
        parse_controls(text, "feet.toml")
    assert (caught.value.source, caught.value.hint) == ("feet.toml", ACTIONS)
    return caught.value.faults


def test_every_action_has_a_key():
    """Each action can be asked for with a key, and each key has a name that files may give."""
    assert set(CONTROLS.keys.values()) == set(Action)
    assert all(len(key) == 1 or key in NAMED_KEYS for key in CONTROLS.keys)


def test_a_page_turner_steers():
    """The keys that pedals for page turning send, Page Down and Page Up or space, stop and go
    and count in (common practice, no source)."""
    assert CONTROLS.keys["page down"] is CONTROLS.keys["space"] is Action.STOP_GO
    assert CONTROLS.keys["page up"] is Action.AGAIN


def test_own_controls_stand_before_ours():
    """A player's own keys and pedals replace ours, the others stay; large and small letters
    and spaces round a name do not matter."""
    own = parse_controls(
        '[keys]\n"Page Down" = "again from the count-in"\n"B" = "slower"\n" x " = "end"\n'
        '[midi]\n"controller 64" = "round and round in this bar"\n"Note 36" = "faster"\n'
        '"program 1" = "a bar on"\n',
        "feet.toml",
    )
    keys = {"page down": Action.AGAIN, "b": Action.SLOWER, "x": Action.END}
    midi = {(0xB0, 64): Action.THIS_BAR, (0x90, 36): Action.FASTER, (0xC0, 1): Action.BAR_ON}
    assert own.keys == {**CONTROLS.keys, **keys}
    assert own.midi == {**CONTROLS.midi, **midi}


def test_every_fault_is_told_at_once():
    """A file with faults is refused with all of them, each with its place and, where there is
    one, what may be meant; the actions follow."""
    text = """
[keys]
"page dwn" = "slower"
"turbo" = "slower"
"x" = "slwer"
"y" = 3
[midi]
"controler 64" = "slower"
"note 128" = "slower"
"note" = "slower"
[pedals]
"""
    keys = ", ".join(NAMED_KEYS)
    kinds = 'expected "controller 64", "note 36" or "program 1", numbers 0 to 127'
    assert faults(text) == (
        "line 3, keys, 'page dwn': no key; did you mean page down?",
        f"line 4, keys, turbo: no key; keys are signs, or {keys}",
        "line 5, keys, x: 'slwer' is no action; did you mean slower?",
        "line 6, keys, y: 3 is no action",
        f"line 8, midi, 'controler 64': {kinds}",
        f"line 9, midi, 'note 128': {kinds}",
        f"line 10, midi, note: {kinds}",
        "line 11, pedals: unknown key; known here are keys, midi",
    )


def test_what_is_no_table_is_told():
    """Where a table is expected and something else is there, that is the fault."""
    assert faults('keys = "slower"\nmidi = 3') == (
        "line 1, keys: expected a table [keys], got 'slower'",
        "line 2, midi: expected a table [midi], got 3",
    )


def test_a_file_that_is_no_toml_is_refused():
    """A text that is not TOML is refused with its line and what to write."""
    assert faults('[keys]\n"x" = slower') == (
        'line 2, column 7: no value: texts stand in "quotes", numbers without',
    )


def test_a_number_of_any_length_is_a_fault():
    """A MIDI number of thousands of digits, which Python would not read, is a fault like 128."""
    (fault,) = faults('[midi]\n"note ' + "9" * 4301 + '" = "faster"')
    assert fault.startswith("line 2, midi, 'note 9999")
    assert len(fault) < 150


def test_a_name_given_twice_in_two_writings_is_a_fault():
    """The same key written in large and in small letters cannot ask for two things."""
    assert faults('[keys]\n"B" = "slower"\n"b" = "faster"') == (
        "line 3, keys, b: the same as B; a key asks for one thing",
    )


@pytest.mark.parametrize(
    ("messages", "asked"),
    [
        (["b0407f"], [Action.STOP_GO]),  # a switch: on from 64 (MIDI 1.0, controllers 64 to 69)
        (["b04040"], [Action.STOP_GO]),
        (["b0403f"], [None]),
        (["b54040"], [Action.STOP_GO]),  # on any channel
        (["b04040", "b04050", "b0407f", "b04000", "b0407f"],
         [Action.STOP_GO, None, None, None, Action.STOP_GO]),
        (["b0427f", "b0437f", "b0017f"], [Action.AGAIN, Action.THIS_BAR, None]),
        (["903c7f", "f8", "fe", "f0", ""], [None] * 5),
    ],
)  # fmt: skip
def test_pedals_of_a_keyboard_count_as_they_go_down(messages, asked):
    """A controller asks once as it passes 64 upwards (MIDI 1.0 Detailed Specification), however
    many messages a pedal sends on its way."""
    pedals = Pedals(CONTROLS)
    assert [pedals.heard(bytes.fromhex(message)) for message in messages] == asked


def test_notes_and_programs_ask_where_a_file_says_so():
    """A key of a keyboard asks as it goes down, not with velocity 0, which is its end (MIDI 1.0
    Detailed Specification); a program asks when it is chosen."""
    own = parse_controls('[midi]\n"note 36" = "end"\n"program 0" = "slower"', "feet.toml")
    pedals = Pedals(own)
    messages = ("902401", "902400", "802440", "c000")
    asked = [Action.END, None, None, Action.SLOWER]
    assert [pedals.heard(bytes.fromhex(message)) for message in messages] == asked
