"""Who writes to the terminal while it sounds: a thread of its own, so that the music waits for
nothing."""

from collections.abc import Callable, Sequence
from enum import Enum, auto
from queue import Empty, SimpleQueue
from threading import Thread
from time import monotonic

from backing.cli.key_table import KeyRow
from backing.cli.terminal import find_glass
from backing.live.shown import Shown

#: Minutes of playing after which a rest is due, and what is said then.
REST_AFTER = 25
REST = f"{REST_AFTER} minutes: a few minutes' rest for ears, arms and back is due"
#: So many seconds after a window has got another size at most, it is drawn anew.
_LOOK = 0.2


class _Call(Enum):
    KEYS = auto()
    MUSIC = auto()
    END = auto()


class Screen:
    """Writes to the terminal on a thread of its own.

    A window shows the moment from edge to edge (`WholeWindow`), an old console one line; a
    stream that is no terminal, and a terminal that knows no control sequences, get only what is
    told.  `keys` is the table of keys, `widest` the chord symbol of the tune that takes most
    room.
    """

    def __init__(
        self,
        now: Callable[[], float] = monotonic,
        *,
        keys: Sequence[KeyRow] = (),
        widest: str = "",
    ) -> None:
        self._glass = find_glass()(keys, widest)
        self._queue: SimpleQueue[Shown | str | _Call] = SimpleQueue()
        self._now, self._since, self._rested = now, now(), False
        self._thread = Thread(target=self._write_all, name="screen", daemon=True)
        self._thread.start()

    def show(self, shown: Shown) -> None:
        """Show a moment."""
        self._queue.put(shown)

    def tell(self, text: str) -> None:
        """Say something that stays on the screen."""
        self._queue.put(text)

    def turn_keys(self) -> None:
        """Show the keys in place of the music; when they are all shown, the music again."""
        self._queue.put(_Call.KEYS)

    def hide_keys(self) -> None:
        """Show the music again."""
        self._queue.put(_Call.MUSIC)

    def close(self) -> None:
        """Leave the terminal as it was, and what was told on it."""
        self._queue.put(_Call.END)
        self._thread.join(1)

    def _write_all(self) -> None:
        newest: Shown | None = None
        while (item := self._next()) is not _Call.END:
            if isinstance(item, Shown):
                newest = item
            elif isinstance(item, str):
                self._glass.say(item)
            elif item is _Call.KEYS:
                self._glass.turn_keys()
            elif item is _Call.MUSIC:
                self._glass.hide_keys()
            else:
                self._glass.look()
            if newest and self._queue.empty():
                self._moment(newest)
                newest = None
        self._glass.leave()

    def _next(self) -> Shown | str | _Call | None:
        """What is to be written next; None where nothing comes for a while."""
        try:
            return self._queue.get(timeout=_LOOK)
        except Empty:
            return None

    def _moment(self, shown: Shown) -> None:
        if self._now() - self._since > 60 * REST_AFTER and not self._rested:
            self._rested = True
            self._glass.say(REST)
        self._glass.show(shown)
