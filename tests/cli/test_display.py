"""What is written to the terminal while it sounds."""

import io
import os
import re
import sys
import time

import pytest

from backing.cli import terminal
from backing.cli.display import REST, REST_AFTER, Screen
from backing.cli.moment import line
from backing.cli.stand import stand

KEYS = [("q", "end"), ("?", "show the keys")]
ENTER, LEAVE = "\x1b[?1049h\x1b[?25l", "\x1b[H\x1b[2J\x1b[?25h\x1b[?1049l"


class Pane:
    """What a terminal shows of what it was sent: cursor to a place, a line or all cleared
    (ECMA-48: CUP, EL, ED), another screen and back."""

    def __init__(self, rows=60) -> None:
        self.rows = rows
        self.lines = [""] * rows
        self.row = 0

    def take(self, text):
        """Read all of it."""
        for numbers, command, sign in re.findall(r"\x1b\[\??([\d;]*)(\w)|([^\x1b])", text):
            if sign:
                self.lines[self.row] += sign
            elif command == "H":
                self.row = int(numbers.split(";")[0] or 1) - 1
                self.lines[self.row] = ""
            elif command == "J":
                self.lines = [""] * self.rows
        return self


class Terminal(io.TextIOWrapper):
    """Stands in for stderr; keeps what is written."""

    def __init__(self, *, live: bool, encoding: str = "utf-8") -> None:
        super().__init__(io.BytesIO(), encoding=encoding)
        self.live = live

    def isatty(self):
        return self.live

    @property
    def text(self):
        return self.buffer.getvalue().decode()


def until(holds):
    """Wait for something that comes soon."""
    end = time.monotonic() + 20
    while not holds():
        assert time.monotonic() < end
        time.sleep(0.001)


@pytest.fixture
def screen(monkeypatch):
    """Show and tell things on a terminal so many columns and lines large (None: there is none);
    what it got.

    A number is the width that the window gets, "?" and "!" show and hide the keys. `minutes` is
    what the clock says, look by look: at the start, and whenever something moves.
    """

    def on(size, *things, minutes=(0,), glass=None):
        window = Terminal(live=size is not None)
        sizes = [size or (80, 24)]
        monkeypatch.setattr(sys, "stderr", window)
        monkeypatch.setattr(terminal, "window_size", lambda: sizes[-1])
        if glass:
            monkeypatch.setattr("backing.cli.display.find_glass", lambda: glass)
        looks = []

        def now():
            looks.append(minutes[min(len(looks), len(minutes) - 1)])
            return 60.0 * looks[-1]

        shows = Screen(now, keys=KEYS)
        for thing in things:
            until(shows._queue.empty)  # else it would be passed over
            if thing == "?":
                shows.turn_keys()
            elif thing == "!":
                shows.hide_keys()
            elif isinstance(thing, int):
                written = len(window.text)
                sizes.append((thing, size[1]))
                until(lambda written=written: len(window.text) > written)
            elif isinstance(thing, str):
                shows.tell(thing)
            else:
                seen = len(looks)
                shows.show(thing)
                until(lambda seen=seen: len(looks) > seen)
        shows.close()
        return window.text

    monkeypatch.delenv("TERM", raising=False)
    return on


def test_a_moment_fills_the_window(screen, at):
    """The window shows the moment on a screen of its own, one column short of the edge (there
    the cursor would go on to the next line), what was told below it."""
    text = screen((80, 24), "playing Plain", at(1, chord="G"))
    assert text.startswith(ENTER)
    found, left = text.removeprefix(ENTER).split(LEAVE)
    expected = stand(at(1, chord="G"), 79, 24, told=["playing Plain"])
    assert Pane(24).take(found).lines == expected
    assert left == "playing Plain\n"


def test_only_lines_that_are_new_are_written(screen, at):
    """From beat to beat what stays is not written again, and nothing flickers."""
    text = screen((80, 24), at(1, chord="G"), at(1, beat=1, chord="G")).split(LEAVE)[0]
    expected = stand(at(1, beat=1, chord="G"), 79, 24)
    assert Pane(24).take(text).lines == [*expected, *[""] * (24 - len(expected))]
    assert text.count("\x1b[2J") == 1
    assert len(text.split("█ 2 ─")[1]) > 0
    later = text[text.rindex("1 ─") - 10 :]
    assert len(re.findall(r"\x1b\[\d+;1H", later)) == 1


def test_a_window_that_gets_another_size_is_drawn_anew(screen, at):
    """When its size changes, also while nothing moves, all is cleared and drawn to fit."""
    text = screen((80, 24), at(1, chord="G"), 60).split(LEAVE)[0]
    assert text.count("\x1b[2J") == 2
    assert (
        Pane(24).take(text.split("\x1b[2J")[-1]).lines[:17] == stand(at(1, chord="G"), 59, 24)[:17]
    )


def test_the_keys_stand_in_place_of_the_music(screen, at):
    """The table of keys takes the place of the music, once; asked for again, or with the next
    key, the music is back, and nothing of the table stays after it."""
    table = ["q  end", "?  show the keys", "any key: back to the music"]
    pane = Pane(24)
    shown = screen((80, 24), at(1, chord="G"), "?").split(LEAVE)[0]
    assert pane.take(shown).lines[:4] == [*table, ""]
    for back in ("?", "!"):
        text, left = screen((80, 24), at(1, chord="G"), "?", back).split(LEAVE)
        expected = stand(at(1, chord="G"), 79, 24)
        assert Pane(24).take(text).lines[: len(expected)] == expected
        assert left == ""


def test_what_is_told_before_the_music_is_not_lost(screen):
    """Where nothing is ever shown, what was told is written at the end."""
    assert screen((80, 24), "playing Plain") == "playing Plain\n"


def test_an_old_console_has_one_line(screen, at):
    """Where no control sequences are known one line is written over; what is told stays above
    it, and at the end it is gone."""
    clear = f"\r{' ' * 79}\r"
    moment = line(at(1))
    assert screen((80, 24), at(1), "two\nlines", glass=terminal.OneLine) == (
        f"{clear}{moment}{clear}two\nlines\n{moment}{clear}"
    )
    assert "  q                     end\n" in screen((80, 24), "?", glass=terminal.OneLine)
    assert screen((20, 24), at(1), glass=terminal.OneLine).count(moment[:19]) == 1


def test_without_a_terminal_only_what_is_told_is_written(screen, at):
    """Where stderr is no terminal there is no moving line and no control character."""
    assert (
        screen(None, "playing Plain", at(1), "two\nlines", at(2)) == "playing Plain\ntwo\nlines\n"
    )
    assert (
        screen(None, "?") == "  q                     end\n  ?                     show the keys\n"
    )


def test_a_terminal_without_control_sequences_gets_none(screen, at, monkeypatch):
    """With TERM=dumb there is no moving line (terminfo: dumb cannot clear a line)."""
    monkeypatch.setenv("TERM", "dumb")
    assert screen((80, 24), "playing Plain", at(1)) == "playing Plain\n"


@pytest.mark.parametrize("glass", [terminal.WholeWindow, terminal.OneLine])
def test_control_characters_in_a_tune_do_not_reach_the_terminal(screen, at, glass):
    """A title or a chord with an escape sequence in it is shown without its control
    characters."""
    moment = at(1, chord="G\x1b[2J\r")
    shown = screen((200, 24), "playing \x1b]0;x\x07Plain", moment, glass=glass)
    assert "playing ]0;xPlain\n" in shown
    assert "G[2J" in shown
    for known in (ENTER, LEAVE, "\x1b[2J\x1b[1;1H", "\x1b[K", f"\r{' ' * 199}\r"):
        shown = shown.replace(known, "")
    shown = re.sub(r"\x1b\[\d+;1H", "", shown)
    assert {sign for sign in shown if not sign.isprintable()} == {"\n"}


def test_signs_that_a_terminal_has_not_are_written_as_others(at, monkeypatch):
    """A terminal whose encoding has no blocks (ISO 8859-1) gets plain signs, not question
    marks."""
    window = Terminal(live=True, encoding="iso-8859-1")
    monkeypatch.setattr(sys, "stderr", window)
    monkeypatch.delenv("TERM", raising=False)
    shows = Screen()
    shows.show(at(1, chord="G", coming="D7", beats=1))
    until(lambda: b"###" in window.buffer.getvalue())
    shows.close()
    text = window.buffer.getvalue().decode("iso-8859-1")
    assert "1 ######" in text
    assert "?" not in re.sub(r"\x1b\[\?", "", text)


@pytest.mark.parametrize("size", [None, (300, 24)])
def test_a_rest_is_proposed_once(screen, at, size):
    """After 25 minutes of playing a rest is proposed, once, on a terminal or not (five minutes
    after 25: musiciansway.com/blog/2011/07/taking-breaks); it stays in the window and after."""
    moments = [at(1), at(2), at(1), at(2)]
    late = (0, 1, REST_AFTER, REST_AFTER + 1, REST_AFTER + 2)
    text = screen(size, *moments, minutes=late)
    assert text.count(f"{REST}\n") == 1
    assert text.count(REST) == (1 if size is None else 2)
    assert REST not in screen(size, *moments, minutes=late[:3])


def test_a_terminal_that_is_closed_is_no_fault(at, monkeypatch):
    """When stderr is closed or not there at all, showing and telling do nothing."""
    closed = Terminal(live=True)
    closed.close()
    for stream in (None, closed):
        monkeypatch.setattr(sys, "stderr", None)
        shows = Screen()
        monkeypatch.setattr(sys, "stderr", stream)
        shows.tell("playing Plain")
        shows.show(at(1))
        shows.close()
        assert not shows._thread.is_alive()


def test_the_size_is_that_of_the_terminal_that_is_written_to(monkeypatch):
    """Columns and lines are those of stderr's terminal, wherever stdout goes; 80 and 24 where it
    tells none."""
    pytest.importorskip("termios", reason="no terminals as on Unix here")
    import fcntl
    import struct
    import termios

    other, own = os.openpty()
    with os.fdopen(own, "w", encoding="utf-8") as stream:
        monkeypatch.setattr(sys, "stderr", stream)
        assert terminal.window_size() == (80, 24)
        fcntl.ioctl(own, termios.TIOCSWINSZ, struct.pack("HHHH", 12, 33, 0, 0))
        assert terminal.window_size() == (33, 12)
        monkeypatch.setattr(sys, "stderr", Terminal(live=True))
        assert terminal.window_size() == (80, 24)
        monkeypatch.undo()
    os.close(other)
