"""What stands on the screen while it sounds."""

import io
import os
import sys
import time
from fractions import Fraction

import pytest

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import Role
from backing.cli import display
from backing.cli.display import REST, REST_AFTER, Screen, fitting, key_table, line
from backing.files import load_style
from backing.live.actions import Action
from backing.live.controls import CONTROLS
from backing.live.cues import FeltBeat
from backing.live.shown import Shown, State
from backing.music.tempo import Tempo
from backing.parse.abc import parse_abc
from backing.practice.course import Course
from backing.practice.laying import Target
from backing.practice.passages import Bars, OneSection, Whole
from backing.practice.plan import Plan, Step
from backing.practice.stretch import Kind

TUNE = 'X:1\nT:Plain\nM:6/8\nL:1/8\nQ:3/8=80\nK:G\nD|"G"G3 B3|"D"d3 A2:|"C"c6|"G"G6|]\n'
TEMPO = Tempo(Fraction(60), Fraction(3, 8))
BEFORE = Shown(State.PLAYING, None, Target(Whole()), TEMPO, Fraction(3, 4), frozenset())
SPEED = "3/8 = 60 (75 %)"


@pytest.fixture(scope="module")
def at():
    """A moment in a bar, by its place in the order in which the bars are played: the pickup
    is 0; `time` of `times` rounds."""
    tune = parse_abc(TUNE)
    arrangement = arrange(tune, load_style("sustained"))
    first = Course(arrangement, tune, Plan((Step(),))).start

    def moment(place, *, kind=Kind.PLAY, time=1, times=0, span=None, **more):
        stretch = first._replace(kind=kind, time=time, times=times, frame=arrangement.bars)
        if kind in (Kind.COUNT_IN, Kind.GAP):
            stretch = stretch._replace(sounding=None)
        bar = arrangement.bars[place]
        beat = FeltBeat(stretch, bar, 0, 2, bar.stop, place)
        return BEFORE._replace(beat=beat, target=Target(span or Whole()), **more)

    return moment


def test_where_it_is_is_said_first(at):
    """Part, time through, bar and round come first; the round where there is more than one,
    and of how many where that is known."""
    assert line(at(1)).startswith("A part, bar 1, round 1  |  beat 1 of 2  |  ")
    assert line(at(0, times=1)).startswith("A part, pickup  |")
    assert line(at(4, time=2, times=3)).startswith("A part, time 2, bar 1, round 2 of 3  |")
    assert line(at(6, times=1)).startswith("B part, bar 3  |")
    assert line(at(1, kind=Kind.COUNT_IN)).startswith("count-in  |  beat 1 of 2  |")


def test_echoes_and_gaps_are_said(at):
    """A time through without the melody is called an echo, bars of clicks between are a gap."""
    echo = line(at(1, kind=Kind.ECHO, time=2, times=3))
    assert echo.startswith("A part, bar 1, round 2 of 3, echo  |  beat 1 of 2  |  ")
    assert line(at(1, kind=Kind.GAP, times=3)).startswith("gap  |  beat 1 of 2  |")


@pytest.mark.parametrize(
    ("span", "said"),
    [
        (Bars(5, 6), "only bars 5-6"),
        (Bars(5, 5), "only bar 5"),
        (OneSection("b"), "only the B part"),
    ],
)
def test_what_it_goes_round_in_is_said(at, span, said):
    """A loop is named wherever the music is: playing, on the way there, counting in, stopped."""
    assert f", round 1 ({said})  |" in line(at(1, span=span))
    assert f", round 1 (then {said})  |" in line(at(1, span=span, moving=True))
    assert line(at(1, span=span, kind=Kind.COUNT_IN)).startswith(f"count-in, {said}  |")
    assert line(at(1, span=span, state=State.STOPPED)).startswith(f"stopped, {said}  |")


def test_on_the_way_elsewhere_in_the_tune_that_is_said(at):
    """A jump within the whole tune waits for the bar line."""
    assert ", round 1 (then on)  |" in line(at(1, moving=True))


def test_tempo_muted_tracks_and_chords_follow(at):
    """Tempo with its unit and per cent, what is muted, the chord and the one that comes."""
    muted = frozenset((Role.MELODY, Role.CLICK))
    shown = line(at(1, times=1, muted=muted, chord="G", coming="D7"))
    ending = f"{SPEED}  |  without click and melody  |  G → D7"
    assert shown == f"A part, bar 1  |  beat 1 of 2  |  {ending}"
    assert line(at(1, times=1, chord="G")).endswith(f"{SPEED}  |  G → –")
    assert line(at(1, times=1, coming="D")).endswith(f"{SPEED}  |  – → D")
    assert line(at(1, times=1)).endswith(SPEED)


def test_while_nothing_sounds_there_is_neither_beat_nor_chord(at):
    """Stopped, without a port or before the first beat the line has its state and tempo."""
    assert line(BEFORE) == f"stopped  |  {SPEED}"
    assert line(at(1, state=State.STOPPED, chord="G", coming="D")) == f"stopped  |  {SPEED}"
    assert line(at(1, state=State.GONE, chord="G")) == (
        f"the port is gone: waiting for it to come back  |  {SPEED}"
    )


def test_the_table_of_keys_names_every_action_once():
    """Each action stands in a line of its own, after all its keys."""
    rows = key_table(CONTROLS).splitlines()
    assert len(rows) == len(Action)
    assert rows[0] == "  space, page down      stop and go"
    assert "  ↓, -                  slower" in rows


def test_pedals_stand_beside_the_keys():
    """Where a MIDI pedal is listened to, the table says what each does: sustain (controller 64),
    sostenuto (66) and soft (67), by the MIDI 1.0 table of controllers; what each of them
    does is a working choice, no source."""
    rows = key_table(CONTROLS, pedals=True).splitlines()
    told = {row.split("controller ")[1][:2]: row for row in rows if "controller" in row}
    assert told["64"].endswith(Action.STOP_GO)
    assert told["66"].endswith(Action.AGAIN)
    assert told["67"].endswith(Action.THIS_BAR)


def test_a_line_is_cut_to_the_width_of_the_terminal():
    """A line is cut by columns: a wide sign takes two (Unicode, annex 11), a combining one
    none."""
    assert fitting("bar 12", 6) == "bar 12"
    assert fitting("bar 12", 4) == "bar "
    assert fitting("a日本", 4) == "a日"
    assert fitting("e\u0301e\u0301e", 2) == "e\u0301e\u0301"
    assert fitting("bar", 0) == ""
    assert fitting("bar", -1) == ""


class Terminal(io.TextIOWrapper):
    """Stands in for stderr; keeps what is written."""

    def __init__(self, *, live: bool) -> None:
        super().__init__(io.BytesIO(), encoding="utf-8")
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
    """Show and tell things on a terminal so many columns wide (0: none); what it got.

    `minutes` is what the clock says, look by look: at the start, and whenever something moves.
    """

    def on(width, *things, minutes=(0,)):
        terminal = Terminal(live=width > 0)
        monkeypatch.setattr(sys, "stderr", terminal)
        monkeypatch.setattr(display, "_width", lambda: width)
        looks = []

        def now():
            looks.append(minutes[min(len(looks), len(minutes) - 1)])
            return 60.0 * looks[-1]

        shows = Screen(now)
        for thing in things:
            if isinstance(thing, str):
                shows.tell(thing)
            else:
                until(shows._queue.empty)  # else it would be passed over
                seen = len(looks)
                shows.show(thing)
                until(lambda seen=seen: len(looks) > seen)
        shows.close()
        return terminal.text

    monkeypatch.delenv("TERM", raising=False)
    return on


def test_the_moving_line_is_written_over_itself(screen, at):
    """On a terminal the line is cleared and written anew, one column short of the edge (there
    the cursor would go on to the next line); at the end it is cleared."""
    moment = line(at(1))
    assert screen(300, at(1)) == f"\r\x1b[K{moment}\r\x1b[K"
    assert screen(20, at(1)) == f"\r\x1b[K{moment[:19]}\r\x1b[K"
    assert screen(1, at(1)) == "\r\x1b[K\r\x1b[K"


def test_what_is_told_stays_above_the_moving_line(screen, at):
    """Lines that are told take the place of the moving one, which goes on below them."""
    moment = line(at(1))
    assert screen(300, at(1), "the keys:\n  q  end") == (
        f"\r\x1b[K{moment}\r\x1b[Kthe keys:\n  q  end\n{moment}\r\x1b[K"
    )


def test_without_a_terminal_only_what_is_told_is_written(screen, at):
    """Where stderr is no terminal there is no moving line and no control character."""
    assert screen(0, "playing Plain", at(1), "two\nlines", at(2)) == "playing Plain\ntwo\nlines\n"


def test_a_terminal_without_control_sequences_gets_none(screen, at, monkeypatch):
    """With TERM=dumb there is no moving line (terminfo: dumb cannot clear a line)."""
    monkeypatch.setenv("TERM", "dumb")
    assert screen(80, "playing Plain", at(1)) == "playing Plain\n"


def test_control_characters_in_a_tune_do_not_reach_the_terminal(screen, at):
    """A title or a chord with an escape sequence in it is shown without its control
    characters."""
    shown = screen(300, "playing \x1b]0;x\x07Plain", at(1, chord="G\x1b[2J\r"))
    assert "playing ]0;xPlain\n" in shown
    assert "G[2J →" in shown
    assert {sign for sign in shown.replace("\r\x1b[K", "") if not sign.isprintable()} == {"\n"}


@pytest.mark.parametrize("width", [0, 300])
def test_a_rest_is_proposed_once(screen, at, width):
    """After 25 minutes of playing a rest is proposed, once, on a terminal or not (five minutes
    after 25: musiciansway.com/blog/2011/07/taking-breaks)."""
    moments = [at(1), at(2), at(1), at(2)]
    late = (0, 1, REST_AFTER, REST_AFTER + 1, REST_AFTER + 2)
    assert screen(width, *moments, minutes=late).count(f"{REST}\n") == 1
    assert REST not in screen(width, *moments, minutes=late[:3])


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


def test_the_width_is_that_of_the_terminal_that_is_written_to(monkeypatch):
    """The columns are those of stderr's terminal, wherever stdout goes; 80 where it tells
    none."""
    pytest.importorskip("termios", reason="no terminals as on Unix here")
    import fcntl
    import struct
    import termios

    other, own = os.openpty()
    with os.fdopen(own, "w", encoding="utf-8") as stream:
        monkeypatch.setattr(sys, "stderr", stream)
        assert display._width() == 80
        fcntl.ioctl(own, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 33, 0, 0))
        assert display._width() == 33
        monkeypatch.setattr(sys, "stderr", Terminal(live=True))
        assert display._width() == 80
        monkeypatch.undo()
    os.close(other)
