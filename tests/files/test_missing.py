"""A file that is not there: what is said instead."""

import os
from pathlib import Path

import pytest

from backing.errors import FileError
from backing.files.missing import no_file
from backing.files.reading import read_bytes

NAMES = ("Reel.ABC", "jig.abc", "air.mid", "box.toml", "notes.txt", ".hidden.abc", "reeds.sf2")


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A folder of a player's, and the one below it."""
    monkeypatch.chdir(tmp_path)
    for name in NAMES:
        Path(name).write_text("x")
    Path("old tunes.abc").mkdir()
    Path("empty").mkdir()
    return tmp_path


@pytest.mark.parametrize(
    ("name", "hint"),
    [
        ("jgi.abc", "did you mean jig.abc?"),
        ("w.abc", "is it one of those here: Reel.ABC, air.mid or jig.abc?"),
        ("w", "is it one of those here: Reel.ABC, air.mid or jig.abc?"),
        ("w.txt", "is it one of those here: Reel.ABC, air.mid, jig.abc or notes.txt?"),
        ("w.toml", "is it one of those here: box.toml?"),
        (os.path.join("empty", "x.abc"), "give the path of one: there is no tune in empty"),
        (os.path.join("empty", "x.toml"),
         "give the path of one: there is no file ending in .toml in empty"),
        (os.path.join("emtpy", "x.abc"),
         "there is no folder emtpy either; did you mean empty?"),
        (os.path.join("jig.abc", "x.abc"),
         "there is no folder jig.abc either; give the whole path of the file"),
        (os.path.join("far", "away", "x.abc"),
         f"there is no folder {os.path.join('far', 'away')} either; give the whole path of the "
         "file"),
    ],
)  # fmt: skip
def test_what_could_be_meant(folder, name, hint):
    """Nearly the same name, else what is read alike, hidden files and folders left out; else
    where to look."""
    with pytest.raises(FileError) as raised:
        read_bytes(Path(name))
    assert raised.value.message == f"there is no file {name}"
    assert raised.value.hint == hint


def test_the_first_few_are_named(folder):
    """Of many files four are named, the others counted."""
    for number in range(10, 20):
        Path("empty", f"{number}.abc").write_text("x")
    hint = no_file(Path("empty", "nowhere.abc")).hint
    assert hint == "is it one of those in empty: 10.abc, 11.abc, 12.abc, 13.abc or 6 more?"


def test_a_name_without_a_suffix(folder):
    """What it should end in tells what could be meant."""
    assert no_file(Path("w"), ".sf2").hint == "is it one of those here: reeds.sf2?"
