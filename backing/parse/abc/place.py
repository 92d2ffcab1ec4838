"""Where a reader of ABC is in its text, and what it says about that place."""

from backing.errors import Notice, TuneError
from backing.music.tune import Source
from backing.parse.abc.limits import MOST_NOTICES
from backing.parse.abc.macros import Expanded


class LinePlace:
    """Knows the line that is read, and collects notices that point into it.

    `strict` refuses what ABC 2.1 disallows; else it is read as it was meant.
    """

    def __init__(self, *, strict: bool) -> None:
        self.strict = strict
        self.notices: list[Notice] = []
        self._text = ""
        self._line = 0
        self._base = 0
        self._expanded: Expanded | None = None
        self._said: set[str] = set()
        self._unsaid = 0

    def _place(self, text: str, number: int, base: int) -> None:
        """Begin a line, or a piece of one that begins `base` signs into it."""
        self._text, self._line, self._base, self._expanded = text, number, base, None

    def _source(self, column: int, end: int) -> Source:
        if self._expanded is not None:
            ends = self._expanded.ends
            end = ends[min(end, len(ends)) - 2] if end > column else end
            column = self._expanded.columns[column - 1]
        return Source(self._line, self._base + column, self._base + end)

    def _disallowed(self, what: str, hint: str, column: int) -> None:
        """What ABC 2.1 no longer allows: an error where it is asked for strictly."""
        if self.strict:
            raise self._error(f"{what} is not allowed in ABC 2.1: {hint}", column)
        self._once(f"{what} is an old way of writing: {hint}", column)

    def _deprecated(self, what: str, hint: str, column: int) -> None:
        """What ABC 2.1 still reads and advises against: said where it is asked for strictly."""
        if self.strict:
            self._once(f"{what} is an old way of writing: {hint}", column)

    def _once(self, message: str, column: int) -> None:
        if message not in self._said:
            self._said.add(message)
            self._notice(message, "", column)

    def _notice(self, message: str, hint: str, column: int) -> None:
        if len(self.notices) >= MOST_NOTICES:
            self._unsaid += 1
            return
        place = self._source(column, column)
        self.notices.append(Notice(message, hint, place.line, place.column, self._text))

    def _notice_at(self, message: str, hint: str, place: Source) -> None:
        """About something that was read before, perhaps on another line."""
        if len(self.notices) >= MOST_NOTICES:
            self._unsaid += 1
            return
        self.notices.append(Notice(message, hint, place.line, place.column))

    def _error(self, message: str, column: int) -> TuneError:
        return TuneError(message, line=self._line, column=self._base + column, excerpt=self._text)
