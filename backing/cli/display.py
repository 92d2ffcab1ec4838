"""The one line that shows where the music is, and who writes it to the terminal."""

import os
import sys
from collections.abc import Callable
from queue import SimpleQueue
from threading import Thread
from time import monotonic
from unicodedata import combining, east_asian_width

from backing.cli.printing import clean
from backing.cli.step_text import passage_text
from backing.live.actions import Action
from backing.live.controls import KeysAndPedals, midi_name
from backing.live.shown import Shown, State
from backing.music.tempo import decimal
from backing.practice.passages import OneSection, Passage
from backing.practice.stretch import Kind

#: Back to the line's start, and nothing on it.  The old console of Windows knows no control
#: sequences: there it is written over.
_CLEAR = "\r\x1b[K" if sys.platform != "win32" else f"\r{' ' * 79}\r"
#: Minutes of playing after which a rest is due, and what is said then.
REST_AFTER = 25
REST = f"{REST_AFTER} minutes: a few minutes' rest for ears, arms and back is due"
_KEY_NAMES = {"up": "↑", "down": "↓", "left": "←", "right": "→"}


def line(shown: Shown) -> str:
    """Where the music is, in one line."""
    parts = [_where(shown)]
    if shown.state is State.PLAYING and shown.beat is not None:
        parts.append(f"beat {shown.beat.place + 1} of {shown.beat.beats}")
    parts.append(f"{shown.tempo} ({decimal(shown.factor * 100)} %)")
    if shown.muted:
        parts.append(f"without {' and '.join(sorted(shown.muted))}")
    if shown.state is State.PLAYING and (shown.chord or shown.coming):
        parts.append(f"{shown.chord or '–'} → {shown.coming or '–'}")
    return "  |  ".join(parts)


def _where(shown: Shown) -> str:
    beat = shown.beat
    around = _span(shown.target.span)
    if shown.state is State.GONE:
        return "the port is gone: waiting for it to come back"
    if shown.state is State.STOPPED or beat is None:
        return f"stopped{', ' + around if around else ''}"
    if not beat.stretch.in_tune:
        return f"{beat.stretch.kind}{', ' + around if around else ''}"
    bar = beat.bar
    again = f", time {bar.time}" if bar.time > 1 else ""
    number = f"bar {bar.number}" if bar.number else "pickup"
    times = beat.stretch.times
    of = f" of {times}" if times else ""
    turn = f", round {beat.stretch.time}{of}" if times != 1 else ""
    echo = f", {beat.stretch.kind}" if beat.stretch.kind is Kind.ECHO else ""
    coming = f" (then {around or 'on'})" if shown.moving else f" ({around})" if around else ""
    return f"{bar.section} part{again}, {number}{turn}{echo}{coming}"


def _span(span: Passage) -> str:
    """What it goes round in; nothing for the whole tune."""
    words = passage_text(span)
    part = isinstance(span, OneSection)
    return f"only {'the ' if part else ''}{words}" if words else ""


def key_table(controls: KeysAndPedals, *, pedals: bool = False) -> str:
    """Which keys, and which pedals, ask for what, a line an action."""
    rows = []
    for action in Action:
        names = [_KEY_NAMES.get(k, k) for k, asked in controls.keys.items() if asked is action]
        if pedals:
            names += [midi_name(place) for place, a in controls.midi.items() if a is action]
        if names:
            rows.append(f"  {', '.join(names):<22}{action}")
    return "\n".join(rows)


def fitting(text: str, width: int) -> str:
    """As much of a text as fits into so many columns.

    >>> fitting("bar 12", 5), fitting("日本", 3)
    ('bar 1', '日')
    """
    for at, sign in enumerate(text):
        width -= 0 if combining(sign) else 2 if east_asian_width(sign) in "WF" else 1
        if width < 0:
            return text[:at]
    return text


class Screen:
    """Writes to the terminal on a thread of its own, so that the music waits for nothing.

    Without a terminal, and on one that knows no control sequences, it writes only what is
    told.
    """

    def __init__(self, now: Callable[[], float] = monotonic) -> None:
        self._live = _is_terminal()
        self._queue: SimpleQueue[Shown | str | None] = SimpleQueue()
        self._now, self._since, self._rested = now, now(), False
        self._last = ""
        self._thread = Thread(target=self._write_all, name="screen", daemon=True)
        self._thread.start()

    def show(self, shown: Shown) -> None:
        """Show a moment."""
        self._queue.put(shown)

    def tell(self, text: str) -> None:
        """Say something that stays on the screen."""
        self._queue.put(text)

    def close(self) -> None:
        """Leave the terminal with a fresh line."""
        self._queue.put(None)
        self._thread.join(1)

    def _write_all(self) -> None:
        while (item := self._queue.get()) is not None:
            if isinstance(item, str):
                self._say(item)
            elif self._queue.empty():
                self._moment(item)
        if self._live:
            _write(_CLEAR)

    def _moment(self, shown: Shown) -> None:
        if self._now() - self._since > 60 * REST_AFTER and not self._rested:
            self._rested = True
            self._say(REST)
        if self._live:
            self._last = fitting(clean(line(shown)), _width() - 1)
            _write(_CLEAR + self._last)

    def _say(self, text: str) -> None:
        """Lines that stay; the moving one goes on below them."""
        lines = "".join(f"{clean(each)}\n" for each in text.splitlines())
        _write(f"{_CLEAR}{lines}{self._last}" if self._live else lines)


def _is_terminal() -> bool:
    return sys.stderr is not None and sys.stderr.isatty() and os.environ.get("TERM") != "dumb"


def _width() -> int:
    """Columns of the terminal that is written to; 80 where it does not say."""
    try:
        return os.get_terminal_size(sys.stderr.fileno()).columns or 80
    except (OSError, ValueError):
        return 80


def _write(text: str) -> None:
    """Write at once, past Python's buffer: its lock, held by a thread that a terminal which
    stands still has stopped for good, would end the program with a crash."""
    try:
        sys.stderr.flush()
        raw = getattr(sys.stderr.buffer, "raw", sys.stderr.buffer)
        raw.write(text.encode(sys.stderr.encoding, errors="replace"))
    except (OSError, ValueError, AttributeError):  # it is closed
        pass
