"""Part files: names of their own, locked by the living, cleared up after the dead."""

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from backing.errors import FileError
from backing.files import parts
from backing.files.parts import clear_dead_parts, make_part

_HOLDS = """
import sys, time
from pathlib import Path
from backing.files.parts import make_part
part = make_part(Path(sys.argv[1]))
part.path.write_bytes(b"half")
print("ready", flush=True)
time.sleep(60)
"""


@pytest.fixture
def holder(tmp_path):
    """Another run that is in the middle of writing."""
    process = subprocess.Popen(
        [sys.executable, "-c", _HOLDS, tmp_path], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    yield process
    process.kill()
    process.communicate()


def test_names_of_their_own(tmp_path, monkeypatch):
    """Runs with the same process number have part files of different names."""
    monkeypatch.setattr(os, "getpid", lambda: 7)
    made = [make_part(tmp_path) for _ in range(20)]
    assert len({part.path for part in made}) == 20
    for part in made:
        part.remove()
    assert list(tmp_path.iterdir()) == []


def test_no_name_is_taken_twice(tmp_path, monkeypatch):
    """A name that exists already is never written to, even where chance fails."""
    monkeypatch.setattr(os, "urandom", bytes)
    (tmp_path / ".backing-0000000000000000.part").write_bytes(b"another's")
    with pytest.raises(FileExistsError):
        make_part(tmp_path)
    assert next(tmp_path.iterdir()).read_bytes() == b"another's"


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="kill -9 is POSIX's")
def test_the_dead_are_cleared_and_the_living_are_not(tmp_path, holder):
    """The part file of a run stays while it lives, and goes once it was killed."""
    (part,) = tmp_path.iterdir()
    clear_dead_parts(tmp_path)
    assert part.read_bytes() == b"half"
    holder.kill()
    holder.wait()
    assert part.exists()
    clear_dead_parts(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_other_files_are_not_cleared(tmp_path):
    """Names that are nearly ours, folders, pipes and links of such a name stay."""
    (tmp_path / ".backing-12.part").write_bytes(b"mine")
    (tmp_path / ".backing-0123456789abcdef.part.txt").write_bytes(b"mine")
    (tmp_path / ".backing-0123456789abcdef.part").mkdir()
    (tmp_path / "music.abc").write_bytes(b"mine")
    (tmp_path / ".backing-1123456789abcdef.part").symlink_to("music.abc")
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / ".backing-2123456789abcdef.part")
    before = sorted(os.listdir(tmp_path))
    clear_dead_parts(tmp_path)
    assert sorted(os.listdir(tmp_path)) == before


def test_where_files_have_no_locks(tmp_path, monkeypatch):
    """A part file is a dead run's where nobody has touched it for a day."""
    monkeypatch.setattr(parts, "_lock", lambda file: None)
    part = make_part(tmp_path)
    clear_dead_parts(tmp_path)
    assert part.path.exists()
    yesterday = time.time() - 25 * 60 * 60
    os.utime(part.path, (yesterday, yesterday))
    clear_dead_parts(tmp_path)
    assert not part.path.exists()
    part.remove()


def test_cleared_before_it_is_locked(tmp_path, monkeypatch):
    """A run whose part file another clears away before it is locked makes another one."""
    locked = parts._lock
    calls = []

    def late(file):
        calls.append(file)
        if len(calls) == 1:
            for path in tmp_path.iterdir():
                path.unlink()
        return locked(file)

    monkeypatch.setattr(parts, "_lock", late)
    part = make_part(tmp_path)
    assert len(calls) == 2
    assert list(tmp_path.iterdir()) == [part.path]
    part.remove()


def test_where_they_vanish_again_and_again(tmp_path, monkeypatch):
    """That is said, and the trying ends."""
    monkeypatch.setattr(parts, "_lock", lambda file: False)
    with pytest.raises(FileError, match="part files vanish"):
        make_part(tmp_path)


def test_no_folder_to_clear(tmp_path):
    """A folder that is not there has nothing in it."""
    clear_dead_parts(tmp_path / "nowhere")


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="processes are forked")
def test_writing_that_is_stopped_killed_doubled_and_starved():
    """Runs that are ended by signals, killed, two at once with one process number and without
    room leave the old file or the new one, and nothing beside it (a little of the bench)."""
    bench = Path(__file__).parents[1] / "bench" / "writing.py"
    run = subprocess.run(
        [sys.executable, bench, "--runs", "2", "--only", ".mid,.opus"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stdout + run.stderr
    assert "two runs at once" in run.stdout
