"""Names of files that tell what is in them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.files.naming import name_for

DEVICES = ("con", "prn", "aux", "nul", "com1", "com9", "lpt1", "lpt9", "com0")


@pytest.mark.parametrize(
    ("title", "what", "name"),
    [
        ("The Lock-Keeper's Kettle", (), "the-lock-keepers-kettle.mid"),
        ("The Miller’s Wheel", ("60 %",), "the-millers-wheel-60-percent.mid"),
        ("Tune", ("bars 5-6", "62.5 %"), "tune-bars-5-6-62-5-percent.mid"),
        ("Boxes", ("D/G", "C#/D"), "boxes-d-g-c-sharp-d.mid"),
        ("Größe & Ærø, Łódź", (), "grosse-and-aero-lodz.mid"),
        ("Вальс", ("A part",), "вальс-a-part.mid"),
        ("../../etc/passwd", (), "etc-passwd.mid"),
        ("-o --replace", (), "o-replace.mid"),
        ("a\x00b\nc\x1b[2Jd\u202ee", (), "a-b-c-2jd-e.mid"),
        ("   ", ("once",), "tune-once.mid"),
        ("", (), "tune.mid"),
        ("NUL", (), "tune-nul.mid"),
        ("Com¹", (), "tune-com1.mid"),
    ],
)
def test_what_names_are_made_of(title, what, name):
    """Small letters, digits and hyphens; nothing that a shell or a system takes otherwise."""
    assert name_for(title, what, ".mid") == name


def test_long_titles_are_cut_at_a_word():
    """What the file holds stays whole; of the title go words, of one endless word its end."""
    what = ("bars 5-6", "60 percent", "8 times", "melody muted")
    name = name_for("long " * 60, what, ".ogg")
    assert name.endswith("-long-bars-5-6-60-percent-8-times-melody-muted.ogg")
    assert len(name) <= 130
    assert name_for("o" * 300, ("once",), ".ogg") == "o" * 115 + "-once.ogg"
    assert len(name_for("ж" * 300, ("ж" * 300,), ".ogg").encode()) <= 130


@pytest.mark.slow
@given(st.text(max_size=300), st.lists(st.text(max_size=60), max_size=4))
def test_every_name_can_be_a_file(title, what):
    """Whatever a title is: at most 130 bytes, no sign that Linux, macOS or Windows refuse, no
    device of Windows, no dot or hyphen first; and the same again for the same."""
    name = name_for(title, tuple(what), ".mid")
    stem, dot, suffix = name.rpartition(".")
    assert (dot, suffix) == (".", "mid")
    assert stem
    assert len(name.encode()) <= 130
    assert not set(stem) & set("<>:\"/\\|?*. '")
    assert all(map(str.isprintable, stem))
    assert stem not in DEVICES
    assert not stem.startswith("-")
    assert not stem.endswith("-")
    assert name == name_for(title, tuple(what), ".mid")
