"""The foot of a page: what its signs mean, and nothing that does not stand on it."""

from backing.box.fit import fit
from backing.box.line import line_of
from backing.files import load_box
from backing.parse.abc import parse_abc
from backing.render.sheet.legend import legend_of
from backing.render.sheet.look import SheetLook

HEAD = "X:1\nT:Foot\nM:4/4\nL:1/8\nK:D\n"


def foot(body, **look):
    """What stands at the foot of a page for a D/G box, by its signs."""
    tune = parse_abc(HEAD + body)
    return dict(legend_of(tune, fit(line_of(tune), load_box("D/G")), SheetLook(**look)))


def test_grace_notes_that_are_not_there_are_said():
    """On staff notation with buttons each kind is said once, the fourth and later ones counted;
    a page of buttons alone shows no grace notes, and says nothing of them."""
    body = '"D"{e}d4 f4|"A"{d}c4 e4|'
    assert foot(body)["grace"] == (
        "E before D in bar 1: no E on the push, strike D in its place; "
        "D before C# in bar 2: no D on the pull, strike C# in its place"
    )
    more = '"D"{e}d4 {e}f4|"A"{d}c4 {d}e4|"D"{g}f8|'
    assert foot(more)["grace"].count(" before ") == 3
    assert foot(more)["grace"].endswith("; 1 more so")
    assert "grace" not in foot(body, kind="strip")
    assert "grace" not in foot('"D"{f}d4 f4|')
