"""Signs at notes on drawn lines: none that the reader knows is lost on the way."""

import re

import pytest

from backing.parse.abc import parse_abc
from backing.render.sheet.engraver import engrave
from backing.render.sheet.mei import StaffMarks
from backing.render.sheet.note_signs import note_signs

#: Glyphs by name (SMuFL 1.4).
_TRILL, _LINE = "E566", "E59D"
GLYPHS = {
    "staccato": "E4A2", "accent": "E4A0", ">": "E4A0", "emphasis": "E4A0", "marcato": "E4AC",
    "tenuto": "E4A4", "wedge": "E4A8", "fermata": "E4C0", "invertedfermata": "E4C1",
    "trill": _TRILL, "trill(": _TRILL, "turn": "E567", "turnx": "E569", "invertedturn": "E568",
    "invertedturnx": "E568", "mordent": "E56D", "lowermordent": "E56D", "uppermordent": "E56C",
    "pralltriller": "E56C", "upbow": "E612", "downbow": "E610", "open": "E5E7", "plus": "E5E5",
    "snap": "E631", "breath": "E4CE", "caesura": "E4D1", "tremolo": "E222",
}  # fmt: skip
TEXTS = {"roll": "~", "+": "+", "slide": "slide", "5": "5"}


def lines(body: str, width: int = 1850) -> list[str]:
    """The drawings of a tune with this body."""
    tune = parse_abc(f"X:1\nT:Signs\nM:4/4\nL:1/4\nK:C\n{body}\n")
    return [system.svg for system in engrave(tune, StaffMarks(), width)]


def glyphs(svg: str) -> list[str]:
    """The names of the music signs of a drawing, in its order."""
    return re.findall(r'<use xlink:href="#([0-9A-F]{4})', svg)


@pytest.mark.parametrize("name", GLYPHS)
def test_signs_of_the_trade(name):
    """A decoration (ABC 2.1 clause 4.14) is drawn with its own sign, once."""
    bare = glyphs("".join(lines("d d d d|")))
    drawn = glyphs("".join(lines(f"!{name}!d d d d|")))
    assert GLYPHS[name] not in bare
    assert drawn.count(GLYPHS[name]) == 1
    assert len(drawn) == len(bare) + 1


@pytest.mark.parametrize("name", TEXTS)
def test_signs_that_are_texts(name):
    """A roll is a wave over its note, a slide a word: common practice, no source."""
    (svg,) = lines(f"!{name}!d d d d|")
    assert re.findall(r">([^<>]*\S[^<>]*)</tspan>", svg).count(TEXTS[name]) == 1


def test_a_roll_over_its_note():
    """The wave of a roll begins where its note does, in any voice."""
    body = "V:1\nd ~d d d|\nV:2\nA A ~A A|"
    svg = "".join(lines(body))
    waves = re.findall(r'class="ornam">\s*<text x="(\d+)"', svg)
    heads = re.findall(r'class="notehead">\s*<use [^>]*translate\((\d+),', svg)
    assert waves == [heads[1], heads[6]]


def test_a_trill_over_several_notes():
    """The line of a trill goes on to the end of its last note, in the next line of music too."""
    short = glyphs("".join(lines("!trill(!d !trill)!d d d|")))
    long = glyphs("".join(lines("!trill(!d d d !trill)!d|")))
    assert 0 < short.count(_LINE) < long.count(_LINE)
    first, second, *_ = lines("!trill(!d d d d|" + "d d d d|" * 3 + "d d !trill)!d d|" * 2, 600)
    assert glyphs(first).count(_TRILL) == 1
    assert _LINE in glyphs(second)


@pytest.mark.parametrize(("opens", "closes"), [("<(", "<)"), (">(", ">)"),
                                               ("crescendo(", "crescendo)"),
                                               ("diminuendo(", "diminuendo)")])  # fmt: skip
def test_growing_and_fading(opens, closes):
    """A change of loudness is a hairpin that opens to its loud end; one that is never closed is
    none."""
    (svg,) = lines(f"!{opens}!c d e !{closes}!f|")
    (points,) = re.findall(r'class="hairpin">\s*<polyline [^>]*points="([^"]*)"', svg)
    places = [int(point.partition(",")[0]) for point in points.split()]
    grows = opens[0] in "<c"
    assert (places[1] < places[0]) is grows
    assert "hairpin" not in "".join(lines(f"!{opens}!c d e f|"))


def test_where_signs_stand():
    """A sign stands at the beat of its note, in the bar where it begins; MEI counts beats from
    1 and the end of a span in bars from its start (MEI 5, att.timestamp2)."""
    tune = parse_abc("X:1\nT:S\nM:6/8\nL:1/8\nK:C\nccc ~c3|!<(!c3 c3|c3 !<)!c3|\n")
    found = [(index, sign.tag, dict(sign.attrib)) for index, sign in note_signs(tune)]
    assert [(index, tag, at["tstamp"]) for index, tag, at in found] == [
        (0, "ornam", "4"), (1, "hairpin", "1"),
    ]  # fmt: skip
    assert found[1][2]["tstamp2"] == "1m+4"
