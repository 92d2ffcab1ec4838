"""The page itself: one file of HTML, with all that it shows, plays and does.

Whatever a tune says is text: in the page's own language it is escaped, in its data it cannot end
the script, in drawings only what is known is written.  The policy allows the page's own script
and style, by their hashes, and nothing else: no network, no other script.
"""

import json
import zlib
from base64 import b64encode
from collections.abc import Iterable, Mapping, Sequence
from hashlib import sha256
from html import escape
from importlib.resources import files
from string import Template
from typing import Any, NamedTuple
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

from backing.practice.plan import Plan
from backing.render.page.drawings import DrawnSheet, drawn_sheets
from backing.render.page.music import PageChoice, music_data
from backing.render.page.script import page_script
from backing.render.sheet.look import SheetPage
from backing.render.tuning import A4, TREMOLO


class PageSheet(NamedTuple):
    """The tunes that are shown for a box ("" for none), in the order in which they are played, and
    for each backing of a choice the place of its tune among them; () where they are the same."""

    box: str
    tunes: tuple[SheetPage, ...]
    shown: tuple[int, ...] = ()


def render_page(
    title: str,
    choices: Sequence[PageChoice],
    sheets: Sequence[PageSheet],
    plan: Plan,
    *,
    endless: bool = False,
    a4: float = A4,
    tremolo: float = TREMOLO,
) -> str:
    """A page that shows the sheets, and plays the plan with the choices; the first of each at
    first.  With `endless` its last step goes round until it is stopped."""
    drawn = {sheet.box: [(page, drawn_sheets(page)) for page in sheet.tunes] for sheet in sheets}
    first, *others = drawn
    data = {
        "music": music_data(title, choices, plan, a4=a4, tremolo=tremolo),
        "written": {"box": first, "tunes": [_places_data(*tune) for tune in drawn[first]]},
        "sheets": {box: packed([_tune_data(*tune) for tune in drawn[box]]) for box in others},
        "shown": sheets[0].shown or list(range(len(sheets[0].tunes))),
        "endless": endless,
    }
    style = files(__package__).joinpath("page.css").read_text(encoding="utf-8")
    script = page_script()
    template = Template(files(__package__).joinpath("page.html").read_text(encoding="utf-8"))
    return template.substitute(
        policy=_policy(script, style),
        title=escape(title),
        style=style,
        sheet="\n".join(_plain_sheet(drawn[first])),
        data=json_in_html(data),
        script=script,
    )


def _policy(script: str, style: str) -> str:
    """Content Security Policy Level 3: what may run, and that nothing is fetched."""
    return (
        f"default-src 'none'; script-src '{_hash(script)}'; style-src '{_hash(style)}'; "
        "base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return f"sha256-{b64encode(sha256(text.encode('utf-8')).digest()).decode('ascii')}"


def json_in_html(data: Any) -> str:
    r"""JSON that may stand in a script: nothing in it ends that, or is a line end to anyone.

    >>> json_in_html("</script>\u2028")
    '"\\u003c/script>\\u2028"'
    """
    return json.dumps(data, separators=(",", ":")).replace("<", "\\u003c")


def packed(data: Any) -> str:
    """JSON deflated (RFC 1951), in base64."""
    text = json.dumps(data, separators=(",", ":"), ensure_ascii=False).encode("utf-8")
    deflate = zlib.compressobj(9, zlib.DEFLATED, -zlib.MAX_WBITS)
    return b64encode(deflate.compress(text) + deflate.flush()).decode("ascii")


# -- sheets --------------------------------------------------------------------------------


def _tune_data(page: SheetPage, drawn: Mapping[str, DrawnSheet]) -> dict[str, Any]:
    widths = {width: sheet._asdict() for width, sheet in drawn.items()}
    return {"title": page.tune.title, "said": list(page.said), **widths}


def _places_data(page: SheetPage, drawn: Mapping[str, DrawnSheet]) -> dict[str, Any]:
    """The same of a tune whose drawings stand in the page already: where its bars are."""
    widths = {
        width: {"lines": [{"part": line["part"], "bars": line["bars"]} for line in sheet.lines]}
        for width, sheet in drawn.items()
    }
    return {"title": page.tune.title, "said": list(page.said), **widths}


def _plain_sheet(
    tunes: Sequence[tuple[SheetPage, Mapping[str, DrawnSheet]]],
) -> Iterable[str]:
    """The first sheet as it is shown before any script runs, in each width."""
    sheets = [sheet for _, drawn in tunes for sheet in drawn.values()]
    yield _glyphs({name: path for sheet in sheets for name, path in sheet.glyphs.items()})
    for page, drawn in tunes:
        if len(tunes) > 1:
            yield f"<h2>{escape(page.tune.title)}</h2>"
        yield from (f"<p>{escape(text)}</p>" for text in page.said)
        for width, sheet in drawn.items():
            yield f'<div class="{width}">'
            for line in sheet.lines:
                yield f'<div class="line{" part" * line["part"]}">{line["svg"]}</div>'
            yield "</div>"


def _glyphs(glyphs: Mapping[str, str]) -> str:
    svg = Element("svg", {"class": "glyphs"})
    for name, outline in glyphs.items():
        SubElement(svg, "path", {"id": name, "d": outline, "transform": "scale(1,-1)"})
    return ElementTree.tostring(svg, encoding="unicode")
