"""Bytes of files: never more than the limit, whatever the system says of the file."""

import os
import threading
from pathlib import Path

import pytest

from backing.errors import FileError
from backing.files import reading
from backing.files.reading import read_bytes


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="there is no device without an end here")
@pytest.mark.parametrize("linked", [False, True])
def test_a_device(tmp_path, linked):
    """A device, which may have no end, is refused before it is read, by a link too."""
    path = Path("/dev/zero")
    if linked:
        path = tmp_path / "tune.abc"
        path.symlink_to("/dev/zero")
    with pytest.raises(FileError, match="is a device, not a file") as raised:
        read_bytes(path)
    assert "give a file" in raised.value.hint


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no named pipes here")
def test_a_pipe_without_an_end(tmp_path, monkeypatch):
    """Of a pipe, whose size the system does not know, no more is read than a block past the
    limit."""
    monkeypatch.setattr(reading, "MOST_BYTES", 3000)
    monkeypatch.setattr(reading, "_BLOCK", 1000)
    path = tmp_path / "pipe"
    os.mkfifo(path)
    written = []

    def pour() -> None:
        with path.open("wb", buffering=0) as pipe:
            try:
                while sum(written) < 10**8:
                    written.append(pipe.write(b"x" * 10**6))
            except BrokenPipeError:
                pass

    thread = threading.Thread(target=pour)
    thread.start()
    with pytest.raises(FileError, match="pipe is larger than"):
        read_bytes(path)
    thread.join(10)
    assert sum(written) < 10**7


def test_a_file_at_the_limit(tmp_path, monkeypatch):
    """A file of just so many bytes is read, one more is refused."""
    monkeypatch.setattr(reading, "MOST_BYTES", 2500)
    monkeypatch.setattr(reading, "_BLOCK", 1000)
    path = tmp_path / "tune.abc"
    path.write_bytes(b"x" * 2500)
    assert read_bytes(path) == b"x" * 2500
    path.write_bytes(b"x" * 2501)
    with pytest.raises(FileError, match="larger than") as raised:
        read_bytes(path)
    assert raised.value.hint == "split the book in two"
