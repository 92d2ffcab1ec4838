"""Keys as terminals and Windows tell them."""

import os
import sys
from collections.abc import Iterator
from contextlib import suppress
from types import ModuleType

import pytest

from backing.live import keys
from backing.live.keys import Typed, keys_in, listening

#: By key: what xterm sends (its control sequences, PC-style keys: cursor and editing keys,
#: normal and application mode, with a modifier), the VT220's editing keypad, rxvt's own.
SEQUENCES = {
    "up": ("[A", "OA", "[1;2A", "[1;5A", "[a", "Oa"),
    "down": ("[B", "OB", "[1;3B", "[b", "Ob"),
    "right": ("[C", "OC", "[1;5C", "[c", "Oc"),
    "left": ("[D", "OD", "[1;8D", "[d", "Od"),
    "home": ("[H", "OH", "[1~", "[7~", "[1;5H", "[1;5~", "[7^"),
    "end": ("[F", "OF", "[4~", "[8~", "[1;2F", "[8$"),
    "page up": ("[5~", "[5;2~", "[5;5~", "[5$", "[5^", "[5@"),
    "page down": ("[6~", "[6;3~", "[6^"),
    "insert": ("[2~", "[2;2~"),
    "delete": ("[3~", "[3;5~", "[3$"),
    "enter": ("OM",),
}


@pytest.mark.parametrize("key", SEQUENCES)
def test_each_sequence_is_its_key(key):
    """Control sequences of xterm, VT220 and rxvt stand for their keys, with modifiers too (the
    programs' own documents, from memory)."""
    for sequence in SEQUENCES[key]:
        assert keys_in(f"\x1b{sequence}x") == [key, "x"], sequence


@pytest.mark.parametrize(
    "sequence",
    ["OP", "[[A", "[[B", "[11~", "[15~", "[15;2~", "[17;2~", "[24;5~", "[I", "[O", "[?1;2c",
     "[200~", "[3;4R", "[27;5;98~", "[98;5u", "[Z"],
)  # fmt: skip
def test_other_sequences_press_nothing(sequence):
    """F keys (of the Linux console too), focus, pasting and a terminal's answers have no name,
    and none of their signs is taken for a key (ECMA-48, 5.4)."""
    assert keys_in(f"\x1b{sequence}") == []


def test_signs_are_their_own_names():
    """Letters count without Shift, and signs that print nothing are left out."""
    assert keys_in("bB ?,é\x01\x03") == ["b", "b", "space", "?", ",", "é"]
    assert keys_in("\r\n\t\x7f\b\x1b") == [
        "enter", "enter", "tab", "backspace", "backspace", "escape"
    ]  # fmt: skip


def test_a_pasted_text_is_its_signs():
    """A text that comes at once is pressed sign by sign, sequences among it."""
    assert keys_in("1 2\x1b[6~\x1b[6~q") == ["1", "space", "2", "page down", "page down", "q"]


@pytest.mark.parametrize("text", ["\x1b[A", "\x1b[5;2~", "\x1bOB", "é", "\x1b[[B", "日"])
def test_a_key_may_come_in_two_reads(text):
    """Wherever what a key sends is cut in two, it is the same key (common practice: a read
    gives what has come, no more)."""
    data = text.encode()
    for at in range(1, len(data)):
        typed = Typed()
        assert [*typed.keys(b"1" + data[:at]), *typed.keys(data[at:] + b"2")] == [
            "1", *keys_in(text), "2"
        ]  # fmt: skip


def test_escape_alone_is_a_key_once_nothing_follows():
    """Escape waits for the rest of a sequence, and is itself where none comes."""
    typed = Typed()
    assert typed.keys(b"\x1b") == []
    assert typed.rest() == ["escape"]
    assert typed.rest() == []
    assert typed.keys(b"\x1bq") == ["escape", "q"]


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[int, int]]:
    """A terminal as standard input: its other end, and its own."""
    pytest.importorskip("pty", reason="no pseudo-terminals here")
    other, own = os.openpty()
    with os.fdopen(os.dup(own), "r", encoding="utf-8") as stream:
        monkeypatch.setattr(sys, "stdin", stream)
        yield other, own
    for end in (other, own):
        with suppress(OSError):  # a test may have closed it
            os.close(end)


def test_keys_are_told_one_by_one_and_the_terminal_is_left_as_it_was(terminal, until):
    """Without Enter each key is told at once, also a sequence in two pieces; afterwards the
    terminal's attributes (POSIX termios) are those of before."""
    import termios

    other, own = terminal
    before = termios.tcgetattr(own)
    pressed: list[str] = []
    with listening(pressed.append) as there:
        assert there
        assert termios.tcgetattr(own) != before
        os.write(other, b"b\x1b[")
        os.write(other, b"6~")
        until(lambda: pressed == ["b", "page down"], "two keys")
        os.write(other, b"\x1b")
        until(lambda: pressed[2:] == ["escape"], "Escape")
    assert termios.tcgetattr(own) == before


def test_a_terminal_that_is_closed_tells_no_more(terminal):
    """When the other end of the terminal goes away, listening ends without a fault."""
    other, _ = terminal
    with listening(lambda key: None) as there:
        assert there
        os.close(other)


def test_a_program_in_the_background_leaves_the_keys_to_others(terminal, monkeypatch):
    """Where another process group is the terminal's foreground, keys are not asked for: the
    system would stop the program (POSIX, general terminal interface, 11.1.4)."""
    import termios

    _, own = terminal
    before = termios.tcgetattr(own)
    monkeypatch.setattr(keys.os, "tcgetpgrp", lambda number: os.getpgrp() + 1)
    with listening(lambda key: None) as there:
        assert not there
        assert termios.tcgetattr(own) == before


def test_without_a_terminal_nothing_is_listened_to(monkeypatch):
    """Where neither standard input nor stderr is a terminal there are no keys; where there are
    no such streams at all neither."""
    with open(os.devnull, encoding="utf-8") as nowhere:
        for stream in (nowhere, None):
            monkeypatch.setattr(sys, "stdin", stream)
            monkeypatch.setattr(sys, "stderr", stream)
            with listening(lambda key: None) as there:
                assert not there


@pytest.mark.slow
def test_windows_tells_keys_in_two_parts(monkeypatch, until):
    """A key without a sign comes as 0 or E0 hex and a letter (Microsoft's documentation of
    _getwch); others come as their sign."""
    typed = list("b\xe0Q\x00I\xe0H\xe0\x86 \r\x1b")
    console = ModuleType("msvcrt")
    console.kbhit = lambda: bool(typed)  # type: ignore[attr-defined]
    console.getwch = lambda: typed.pop(0)  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "msvcrt", console)
    monkeypatch.setattr(keys.sys, "platform", "win32")
    monkeypatch.setattr(sys, "stdin", None)
    pressed: list[str] = []
    expected = ["b", "page down", "page up", "up", "space", "enter", "escape"]
    with listening(pressed.append) as there:
        assert not there
        until(lambda: pressed == expected, "the keys")
