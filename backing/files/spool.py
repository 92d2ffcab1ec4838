"""Sound put aside on disk while it is made: hours of it need no more memory than seconds."""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from tempfile import TemporaryFile, gettempdir
from types import TracebackType
from typing import IO, Self

import numpy as np
import numpy.typing as npt

from backing.errors import FileError, reason
from backing.render.blocks import Block

_FRAME_BYTES = 8  # two channels of float32


class Spool:
    """Blocks put aside, to be gone through again as often as need be."""

    def __init__(self, rate: int) -> None:
        self.frames = 0
        self._rate = rate
        self._open = ExitStack()
        self._mixes: list[IO[bytes]] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        with suppress(OSError):  # what a full disk has not taken is not wanted any more
            self._open.close()

    def add(self, block: Block) -> None:
        """Put a block aside.  Raises FileError where there is no room."""
        mixes = [block.wanted] if block.whole is block.wanted else [block.wanted, block.whole]
        with _in_room():
            if not self.frames:
                self._mixes = [self._open.enter_context(TemporaryFile()) for _ in mixes]  # noqa: SIM115
            for file, mix in zip(self._mixes, mixes, strict=True):
                file.write(np.ascontiguousarray(mix, np.float32).data)
                file.flush()
        self.frames += len(block.wanted)

    def fold(self, frames: int) -> None:
        """Make it a loop of so many frames: what comes after them sounds at its beginning."""
        with _in_room():
            for file in self._mixes:
                self._fold(file, frames)
        self.frames = frames

    def _fold(self, file: IO[bytes], frames: int) -> None:
        at = frames
        while at < self.frames:
            begin = at % frames
            count = min(self.frames - at, frames - begin, self._rate)
            mixed = _read(file, begin, count) + _read(file, at, count)
            file.seek(begin * _FRAME_BYTES)
            file.write(mixed.tobytes())
            at += count
        file.truncate(frames * _FRAME_BYTES)

    def blocks(self) -> Iterator[Block]:
        """All of it from its beginning, a second at a time."""
        for first in range(0, self.frames, self._rate):
            count = min(self._rate, self.frames - first)
            mixes = [_read(file, first, count) for file in self._mixes]
            yield Block(mixes[0], mixes[-1])


@contextmanager
def _in_room() -> Iterator[None]:
    """What the system says of a disk without room, as a FileError."""
    try:
        yield
    except OSError as error:
        raise FileError(
            f"the sound cannot be put aside in {_place()}: {reason(error)}",
            "make room there, or name another folder in the environment as TMPDIR",
        ) from None


def _place() -> str:
    try:
        return gettempdir()
    except OSError:  # it looks for one that works, and there is none
        return "a temporary folder"


def _read(file: IO[bytes], first: int, count: int) -> npt.NDArray[np.float32]:
    file.seek(first * _FRAME_BYTES)
    return np.frombuffer(file.read(count * _FRAME_BYTES), np.float32).reshape(-1, 2)
