"""What may be replaced, and files written whole or not at all."""

import os
import signal
import socket
import sys
from pathlib import Path

import pytest

from backing.errors import FileError
from backing.files import check_output, save
from backing.files.outputs import written

posix = pytest.mark.skipif(sys.platform == "win32", reason="links, pipes and modes are POSIX's")
TUNE = b"X:1\nT:Mine\nK:C\nCDEF|\n"
OTHER = b"X:1\nT:Another\nK:G\nGABc|\n"


def refused(path: Path, **more: bool) -> str:
    """What is said where a file is not written; checked before and while it is written."""
    before = path.read_bytes() if path.is_file() else None
    names = sorted(os.listdir(path.parent)) if path.parent.is_dir() else []
    said = set()
    with pytest.raises(FileError) as stop:
        check_output(path, Path("nothing.abc"), (path.suffix,), **more)
    said.add((stop.value.message, stop.value.hint))
    with pytest.raises(FileError) as stop:
        save(path, OTHER, **more)
    said.add((stop.value.message, stop.value.hint))
    assert len(said) == 1
    assert (path.read_bytes() if path.is_file() else None) == before
    assert names == (sorted(os.listdir(path.parent)) if path.parent.is_dir() else [])
    return stop.value.text()


def test_our_own_file_is_replaced(tmp_path):
    """What we made and nobody changed is replaced unasked, again and again."""
    path = tmp_path / "a.abc"
    save(path, TUNE)
    save(path, OTHER)
    save(path, TUNE)
    assert path.read_bytes().startswith(TUNE)
    assert os.listdir(tmp_path) == ["a.abc"]


@pytest.mark.parametrize("old", [b"", TUNE, b"\x00\xff" * 3000])
def test_another_file_is_kept(tmp_path, old):
    """What we did not make is refused with its name, why, and the way; `replace` is the way."""
    path = tmp_path / "a.abc"
    path.write_bytes(old)
    assert refused(path) == (
        f"error: {path} is there already, and it was not made by backing\n"
        "hint: choose another name, or say --replace"
    )
    save(path, OTHER, replace=True)
    assert path.read_bytes().startswith(OTHER)


def test_a_changed_file_is_kept(tmp_path):
    """What a player has worked on since is refused, and that is said."""
    path = tmp_path / "a.abc"
    save(path, TUNE)
    path.write_bytes(path.read_bytes().replace(b"CDEF", b"CDEG"))
    assert "is there already, and it has been changed since backing made it" in refused(path)
    check_output(path, Path("nothing.abc"), (".abc",), replace=True)


def test_a_file_that_comes_meanwhile_is_kept(tmp_path):
    """A file that appears, or is changed, while ours is written is not replaced either."""
    path = tmp_path / "a.abc"

    def meanwhile():
        with written(path) as writing:
            writing.path.write_bytes(OTHER)
            path.write_bytes(TUNE)

    with pytest.raises(FileError, match="was not made by backing"):
        meanwhile()
    assert path.read_bytes() == TUNE
    assert os.listdir(tmp_path) == ["a.abc"]


def test_the_mode_of_the_old_file_stays(tmp_path):
    """Permissions stay as the player set them; a new file has the usual ones."""
    path, new = tmp_path / "a.abc", tmp_path / "b.abc"
    save(path, TUNE)
    path.chmod(0o640)
    save(path, OTHER)
    assert path.stat().st_mode & 0o777 == 0o640
    save(new, TUNE)
    plain = tmp_path / "plain"
    plain.touch()
    assert new.stat().st_mode == plain.stat().st_mode


@posix
@pytest.mark.parametrize("mode", [0o444, 0o400, 0o555, 0o466])
def test_write_protected_files_are_kept_always(tmp_path, mode):
    """A file that its owner may not write is refused, ours or not, asked for or not, even for
    root, whom the system lets write it."""
    path = tmp_path / "a.abc"
    save(path, TUNE)
    path.chmod(mode)
    for more in ({}, {"replace": True}):
        assert "is write-protected\nhint: choose another name" in refused(path, **more)


@posix
def test_what_is_no_file_is_kept_always(tmp_path, monkeypatch):
    """Folders, devices, pipes, sockets and links to them are refused, asked for or not."""
    (tmp_path / "folder.abc").mkdir()
    os.mkfifo(tmp_path / "pipe.abc")
    (tmp_path / "device.abc").symlink_to("/dev/null")
    (tmp_path / "link.abc").symlink_to("folder.abc")
    monkeypatch.chdir(tmp_path)  # a socket's path must be short
    with socket.socket(socket.AF_UNIX) as made:
        made.bind("socket.abc")
        for name, kind in (
            ("folder", "folder"), ("pipe", "pipe"), ("device", "device"), ("link", "folder"),
            ("socket", "socket"),
        ):  # fmt: skip
            for more in ({}, {"replace": True}):
                assert f"{name}.abc is a {kind}" in refused(tmp_path / f"{name}.abc", **more)


@posix
def test_links_in_a_circle_are_refused(tmp_path):
    """A link that leads back to itself, and a folder that does."""
    (tmp_path / "a.abc").symlink_to("b.abc")
    (tmp_path / "b.abc").symlink_to("a.abc")
    (tmp_path / "round").symlink_to("round")
    for more in ({}, {"replace": True}):
        assert "a.abc is a link that leads in a circle" in refused(tmp_path / "a.abc", **more)
        assert "there is no folder" in refused(tmp_path / "round" / "a.abc", **more)


@posix
def test_links_are_written_through(tmp_path):
    """The file that a link leads to is written, under the same rule; the link stays.  One that
    leads to nothing yet makes its file."""
    (tmp_path / "elsewhere").mkdir()
    link, file = tmp_path / "a.abc", tmp_path / "elsewhere" / "b.abc"
    link.symlink_to(file)
    save(link, TUNE)
    save(link, OTHER)
    assert file.read_bytes().startswith(OTHER)
    assert link.is_symlink()
    file.write_bytes(TUNE)
    assert "it was not made by backing" in refused(link)
    assert os.listdir(tmp_path / "elsewhere") == ["b.abc"]
    file.chmod(0o444)
    assert "is write-protected" in refused(link, replace=True)
    link.unlink()
    link.symlink_to(tmp_path / "nowhere" / "c.abc")
    assert f"there is no folder {tmp_path / 'nowhere'}" in refused(link)


@posix
def test_a_link_that_is_turned_meanwhile(tmp_path):
    """Neither the file that it led to nor the one that it leads to now is written."""
    link, first, second = (tmp_path / name for name in ("a.abc", "b.abc", "c.abc"))
    for path in (first, second):
        save(path, TUNE)
    link.symlink_to(first)

    def turned():
        with written(link) as writing:
            writing.path.write_bytes(OTHER)
            link.unlink()
            link.symlink_to(second)

    with pytest.raises(FileError, match="leads elsewhere by now"):
        turned()
    assert first.read_bytes() == second.read_bytes()
    assert len(os.listdir(tmp_path)) == 3


@posix
def test_the_tune_itself_is_never_written(tmp_path):
    """Neither by its name, nor by a hard or soft link, nor with `replace`."""
    book = tmp_path / "book.abc"
    save(book, TUNE)  # ours, which might be replaced else
    os.link(book, tmp_path / "hard.abc")
    (tmp_path / "soft.abc").symlink_to("book.abc")
    for name in ("book.abc", "hard.abc", "soft.abc", "../book.abc"):
        path = tmp_path / name if "/" not in name else tmp_path / ".." / tmp_path.name / "book.abc"
        for replace in (False, True):
            with pytest.raises(FileError, match="is the tune itself"):
                check_output(path, book, (".abc",), replace=replace)
            with pytest.raises(FileError, match="is the tune itself"):
                check_output(book, path, (".abc",), replace=replace)


@posix
def test_a_file_that_cannot_be_read_is_kept(tmp_path, monkeypatch):
    """Where it cannot be seen who made it, it stays."""
    path = tmp_path / "a.abc"
    save(path, TUNE)

    def locked(path):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("backing.files.outputs.why_keep", locked)
    assert "it cannot be read to see who made it: permission denied" in refused(path)


def test_names_that_cannot_be(tmp_path):
    """A name that is too long is said by what the system says of it."""
    path = tmp_path / ("n" * 300 + ".abc")
    with pytest.raises(FileError, match="cannot be written: file name too long"):
        check_output(path, Path("nothing.abc"), (".abc",))
    with pytest.raises(FileError, match="cannot be written: file name too long"):
        save(path, TUNE)
    assert os.listdir(tmp_path) == []


@posix
@pytest.mark.parametrize(
    ("number", "stop"),
    [(signal.SIGINT, KeyboardInterrupt), (signal.SIGTERM, SystemExit), (signal.SIGHUP, SystemExit)],
)
def test_a_signal_while_writing(tmp_path, number, stop):
    """It waits until it is heeded; the old file stays and no part of the new one."""
    path = tmp_path / "a.abc"
    save(path, TUNE)
    before, heard = path.read_bytes(), signal.getsignal(number)

    def ended():
        with written(path) as writing:
            writing.path.write_bytes(OTHER)
            os.kill(os.getpid(), number)
            assert len(os.listdir(tmp_path)) == 2

    with pytest.raises(stop):
        ended()
    assert path.read_bytes() == before
    assert os.listdir(tmp_path) == ["a.abc"]
    assert signal.getsignal(number) is heard
