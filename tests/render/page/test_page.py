"""The file of a page: its script, its policy, its drawings, and what a stranger's text is in it."""

import base64
import hashlib
import html.parser
import json
import re
import zlib
from fractions import Fraction
from pathlib import Path
from xml.etree import ElementTree

import pytest

from backing.files import load_style, read_tune
from backing.live.controls import CONTROLS
from backing.parse.abc import parse_abc
from backing.practice.asked import Asked
from backing.practice.backing import make_backing
from backing.practice.plan import Plan, Step
from backing.render.page.cleaning import cleaned
from backing.render.page.drawings import drawn_sheets, with_joined_lines
from backing.render.page.grid import PageGrid, grid_for
from backing.render.page.music import PageChoice, music_data
from backing.render.page.page import PageSheet, json_in_html, render_page
from backing.render.page.script import joined_modules, page_modules, page_script
from backing.render.sheet.look import SheetPage
from backing.render.sheet.text_width import text_width

EXAMPLES = Path(__file__).parents[3] / "examples"


def page_of(tune):
    backing = make_backing(tune, Asked(Plan((Step(),)), load_style("alternating")))
    sheet = PageSheet("", (SheetPage(backing.tune),))
    choice = PageChoice("", "alternating", (backing,))
    return render_page(tune.title, [choice], [sheet], backing.plan)


class Elements(html.parser.HTMLParser):
    """The elements of a page, with their attributes and the text in each."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.found = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs), []))

    def handle_endtag(self, tag):
        self.found.append(("", {}, []))

    def handle_data(self, data):
        if self.found:
            self.found[-1][2].append(data)

    def text(self, tag, place=0):
        return "".join([found for found in self.found if found[0] == tag][place][2])


@pytest.fixture(scope="module")
def tune():
    return read_tune(EXAMPLES / "the-towpath-mare.abc", "").tune


@pytest.fixture(scope="module")
def mare(tune):
    return page_of(tune)


# -- what may run --------------------------------------------------------------------------


def test_the_policy_allows_the_script_and_the_style_and_nothing_else(mare):
    """Content Security Policy Level 3, 2.3.1: a script runs whose SHA-256 is named."""
    page = Elements(mare)
    policy = next(a["content"] for tag, a, _ in page.found if "http-equiv" in a)
    kinds = dict(each.strip().split(" ", 1) for each in policy.split(";"))
    for kind, text in (("script-src", page.text("script", 1)), ("style-src", page.text("style"))):
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert kinds.pop(kind) == f"'sha256-{digest}'"
    assert kinds == dict.fromkeys(("default-src", "base-uri", "form-action"), "'none'")


def test_it_needs_nothing_else(mare):
    """No address of anything, and no handler, stands in it."""
    for tag, attributes, _ in Elements(mare).found:
        for name, value in attributes.items():
            assert not name.startswith("on"), tag
            assert name not in ("src", "style", "action", "data"), tag
            if name in ("href", "xlink:href"):
                assert value.startswith("#g"), tag
    assert "http" not in re.sub(r"http://www\.w3\.org/2000/svg|http-equiv", "", mare)


EVIL = "</script></style></svg><img src=x onerror=alert(1)>\u2028<!--"


def test_what_a_stranger_writes_is_text():
    """Titles, words, chord symbols, parts, remarks: shown as they are, run by nothing."""
    tune = parse_abc(
        f"X:1\nT:{EVIL}\nC:{EVIL}\nM:4/4\nL:1/4\nK:G\n"
        f'P:{EVIL}\n"G{EVIL}""^{EVIL}"GABc|"<script>alert(1)</script>"dcBA|]\nw:{EVIL} <b>a b\n'
    )
    text = page_of(tune)
    page = Elements(text)
    assert page.text("h1") == page.text("title") == tune.title
    assert "<img" in tune.title
    tags = [tag for tag, _, _ in page.found]
    assert tags.count("script") == 2
    assert not {"img", "b", "iframe", "foreignobject"} & set(tags)
    assert (
        text.count("<!--")
        == text.count("\u2028") - text.split("<script", 1)[0].count("\u2028")
        == 0
    )
    data = json.loads(page.text("script"))
    assert data["music"]["title"] == tune.title


def test_data_in_a_script_cannot_end_it():
    """JSON as it stands in HTML has no `<`, and is the same when it is read."""
    value = {"</script>": ["<!--", "\u2028\u2029", "é"]}
    text = json_in_html(value)
    assert "<" not in text
    assert text.isascii()
    assert json.loads(text) == value


def test_a_drawing_keeps_only_what_is_known():
    """Elements that could run something, handlers, and what fetches, are left out; texts stay."""
    svg = ElementTree.fromstring(
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        'onload="x()"><script>x()</script><style>@import "y"</style><foreignObject/>'
        '<a href="javascript:x()"><text>lost</text></a>'
        '<text onclick="x()" fill="url(https://y)" x="1">a<script>x()</script>b &lt;i&gt;</text>'
        '<use xlink:href="https://y/#E050"/><use xlink:href="#E0A4-abc"/>'
        '<image xlink:href="https://y"/></svg>'
    )
    assert cleaned(svg) == '<svg><text x="1">ab &lt;i&gt;</text><use/><use href="#gE0A4"/></svg>'


def test_what_says_nothing_is_left_out_of_a_drawing():
    """Groups without looks are not written, a text within texts is one, straight lines after each
    other are a path."""
    svg = ElementTree.fromstring(
        '<svg xmlns="http://www.w3.org/2000/svg"><g class="staff"><g/>'
        '<path d="M0 1 L9 1" stroke-width="3" stroke="currentColor"/>'
        '<path d="M0 2 L9 2" stroke-width="3"/><path d="M0 3 L9 3" stroke-width="4"/></g>'
        '<g font-weight="bold"><text x="1" font-size="0px"><tspan class="rend"><tspan '
        'font-size="9em">ab</tspan></tspan></text></g><text><tspan> </tspan></text></svg>'
    )
    assert with_joined_lines(cleaned(svg)) == (
        '<svg><path d="M0 1 L9 1 M0 2 L9 2" stroke-width="3"/><path d="M0 3 L9 3" '
        'stroke-width="4"/><g font-weight="bold"><text x="1" font-size="9em">ab</text></g></svg>'
    )


def test_a_text_keeps_to_the_room_that_it_has():
    """SVG 2, 11.5: a text with a textLength is as wide as that, whatever its font."""
    svg = ElementTree.fromstring(
        '<svg xmlns="http://www.w3.org/2000/svg"><text font-size="1000px">push</text>'
        '<g font-weight="bold"><text font-size="500px">push</text></g>'
        '<text font-size="9px"> ab</text><text font-size="9px">♭</text></svg>'
    )
    kept = re.findall(r'textLength="(\d+)" lengthAdjust="spacingAndGlyphs"', cleaned(svg))
    assert kept == ["1889", "1029"]


@pytest.mark.parametrize(
    ("text", "style", "wide"),
    [
        ("push", {}, 500 + 500 + 389 + 500),
        ("Gaw", {}, 722 + 444 + 722),
        ("C\u00e4", {"bold": True}, 722 + 500),
        ("word", {"italic": True}, 667 + 500 + 389 + 500),
        ("Jo", {"bold": True, "italic": True}, 500 + 500),
    ],
)
def test_the_widths_of_times(text, style, wide):
    """Adobe Core 14 font metrics: Times-Roman, -Bold, -Italic, -BoldItalic, in 1000ths of an em."""
    assert 1000 * text_width(text, **style) == pytest.approx(wide, abs=2)


# -- the script ----------------------------------------------------------------------------


def test_the_script_is_all_modules_each_once():
    """Every module is in it, after those that it imports, without imports and exports."""
    script = page_script()
    assert not re.search(r"^(import|export)\b", script, re.MULTILINE)
    names = re.findall(r"^const \$(\w+) = ", script, re.MULTILINE)
    assert sorted(names) == sorted(page_modules())
    for at, name in enumerate(names):
        used = set(re.findall(r'from "\./(\w+)\.js"', page_modules()[name]))
        assert used <= set(names[:at])


def test_a_module_keeps_its_names_to_itself():
    """Two modules may each have a name that they do not export."""
    texts = {
        "one": "const same = 1;\nexport const first = same;\n",
        "two": 'import { first } from "./one.js";\nconst same = 2;\nexport const two = first;\n',
    }
    script = joined_modules(texts, "two")
    assert script.count("const same") == 2
    assert "const { first } = $one;" in script


def test_the_comments_stay_at_home():
    """What explains the script to its readers is not sent to players."""
    assert "@param" not in page_script()
    assert len(page_script()) < 0.75 * sum(map(len, page_modules().values()))


def test_the_keys_are_those_of_play():
    """What a key asks for is the same in the page and in `backing play`, pedals with it; but Tab
    goes through the page."""
    text = page_modules()["controls"]
    rows = re.findall(r'^  (?:"([^"]+)"|(\w+)): "([^"]+)",$', text, re.MULTILINE)
    found = {(quoted or plain): action for quoted, plain, action in rows}
    names = {
        " ": "space", "PageDown": "page down", "PageUp": "page up", "Enter": "enter",
        "Home": "home", "ArrowUp": "up", "ArrowDown": "down", "ArrowLeft": "left",
        "ArrowRight": "right", "Backspace": "backspace",
    }  # fmt: skip
    ours = {names.get(key, key): action for key, action in found.items()}
    no_use = {"show the keys", "end"}
    assert ours == {
        key: str(act) for key, act in CONTROLS.keys.items() if act not in no_use and key != "tab"
    }


# -- what is in it -------------------------------------------------------------------------


def test_the_first_sheet_stands_in_the_page(mare, tune):
    """Its drawings in two widths, each bar of the tune with its place; nothing needs a script."""
    page = Elements(mare)
    data = json.loads(page.text("script"))
    assert data["written"]["box"] == ""
    assert data["sheets"] == {}
    (placed,) = data["written"]["tunes"]
    for width in ("wide", "narrow"):
        places = [place for line in placed[width]["lines"] for place in line["bars"]]
        assert [bar for bar, _, _ in places] == list(range(len(tune.bars)))
        assert all(0 <= left < right <= 100 for _, left, right in places)
        shown = mare.split(f'<div class="{width}">')[1].split("</div>\n</div>")[0]
        assert shown.count('<div class="line') == len(placed[width]["lines"])
    assert len(placed["narrow"]["lines"]) > len(placed["wide"]["lines"])
    ids = [attributes["id"] for _, attributes, _ in page.found if "id" in attributes]
    assert len(ids) == len(set(ids))


def test_the_other_sheets_are_packed(tune):
    """Deflate (RFC 1951) in base64, in two widths, with the outlines of their signs."""
    backing = make_backing(tune, Asked(Plan((Step(),)), load_style("alternating")))
    choices = [PageChoice(box, "alternating", (backing,)) for box in ("A", "B")]
    sheets = [PageSheet(box, (SheetPage(backing.tune),)) for box in ("A", "B")]
    data = json.loads(Elements(render_page("x", choices, sheets, backing.plan)).text("script"))
    assert list(data["sheets"]) == ["B"]
    (drawn,) = json.loads(zlib.decompress(base64.b64decode(data["sheets"]["B"]), -15))
    (placed,) = data["written"]["tunes"]
    for width in ("wide", "narrow"):
        assert set(re.findall(r'href="#(\w+)"', str(drawn[width]))) <= set(drawn[width]["glyphs"])
        for here, there in zip(drawn[width]["lines"], placed[width]["lines"], strict=True):
            assert here["svg"].startswith("<svg")
            assert here["bars"] == there["bars"]


def test_a_bar_that_is_cut_has_several_places():
    """A bar wider than a phone goes over two lines, and both pieces are that bar."""
    notes = "".join(f"{a}/{b}/" for a, b in zip("CDEFGABc" * 4, "EGBdfagb" * 4, strict=True))
    tune = parse_abc(f"X:1\nT:Long\nM:none\nL:1/4\nK:C\n{notes}|c4|]")
    lines = drawn_sheets(SheetPage(tune))["narrow"].lines
    bars = [bar for line in lines for bar, _, _ in line["bars"]]
    assert bars.count(0) > 1
    assert set(bars) == {0, 1}


def test_what_is_the_same_is_written_once():
    """Bars of the left hand that come again, and lines that several faces share."""
    tune = read_tune(EXAMPLES / "the-towpath-mare.abc", "").tune
    backing = make_backing(tune, Asked(Plan((Step(),)), load_style("drone")))
    data = music_data("x", [PageChoice("", "drone", (backing,))] * 3, backing.plan)
    played = len(backing.arrangement.bars)
    assert len(data["score"]["lines"]) <= 3 + 2
    assert len(data["score"]["cells"]) < 2 * played
    assert data["choices"][0]["pieces"] == data["choices"][2]["pieces"]


def test_a_grid_is_exact_or_fine_enough():
    """On it lie all positions, or, where that would be too fine for whole numbers in a browser
    (ECMA-262: exact up to 2^53), each within a hundredth of a millisecond."""
    assert grid_for([Fraction(1, 11), Fraction(1, 7)]).at(Fraction(5, 77)) * 77 % 5 == 0
    odd = [Fraction(1, prime) for prime in (101, 103, 107, 109)]
    grid = grid_for(odd)
    assert grid.steps * 50_000 * 2 * 3840 < 2**53
    for position in odd:
        # a whole note lasts 6 seconds at 40 crotchets a minute
        assert abs(Fraction(grid.at(position), grid.steps) - position) * 6 < Fraction(1, 100_000)
    assert PageGrid(48).at(Fraction(-1, 96)) == 0
