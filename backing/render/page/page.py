"""The page itself: one file of HTML, with all that it shows, plays and does.

Whatever a tune says is text: in the page's own language it is escaped, in its data it cannot end
the script, in drawings only what is known is written.  The policy allows the page's own script
and style, by their hashes, and nothing else: no network, no other script.
"""

import json
import zlib
from base64 import b64encode
from collections.abc import Iterable, Mapping, Sequence
from functools import partial
from html import escape
from typing import Any, NamedTuple
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

from backing.arranging.arrangement import Role
from backing.box.under_notes import button_sign, fingered_bars
from backing.language.tables import ENGLISH
from backing.music.melody_mark import melody_mark
from backing.music.saying import said_in, title_said
from backing.practice.plan import Plan
from backing.render.page.document import from_template, page_document
from backing.render.page.drawings import DrawnSheet, drawn_sheets
from backing.render.page.index_words import index_words
from backing.render.page.music import PageChoice, music_data
from backing.render.page.script import page_script
from backing.render.page.style import style_sheet
from backing.render.page.words import page_words
from backing.render.sheet.look import SheetLook, SheetPage
from backing.render.tuning import A4, TREMOLO

#: In the order in which they stand in the page.
_TRACKS = (Role.MELODY, Role.BASS, Role.CHORDS, Role.CLICK)


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
    language: str = ENGLISH,
    a4: float = A4,
    tremolo: float = TREMOLO,
    home: str | None = None,
) -> str:
    """A page that shows the sheets, and plays the plan with the choices; the first of each at
    first.  With `endless` its last step goes round until it is stopped; it speaks one of the
    LANGUAGES.  `home` is where a link leads to all tunes of a site (a relative URL); None for a
    page that stands alone."""
    words, title = page_words(language), title_said(title, language)
    look = SheetLook(language=language)
    drawn = {
        sheet.box: [(page, drawn_sheets(page, look)) for page in sheet.tunes] for sheet in sheets
    }
    first, *others = drawn
    data = {
        "music": music_data(title, choices, plan, a4=a4, tremolo=tremolo, language=language),
        "written": {
            "box": first,
            "tunes": [_places_data(*tune, language) for tune in drawn[first]],
        },
        "sheets": {
            box: packed([_tune_data(*tune, language) for tune in drawn[box]]) for box in others
        },
        "shown": sheets[0].shown or list(range(len(sheets[0].tunes))),
        "endless": endless,
        "mark": melody_mark(sheets[0].tunes[0].tune),
        "words": words,
    }
    body = from_template(
        "page",
        **{f"w_{key}": escape(text) for key, text in words.items()},
        tracks="".join(map(partial(_track, words), _TRACKS)),
        title=escape(title),
        home=_home_link(home, language) if home else "",
        sheet="\n".join(_plain_sheet(drawn[first], language)),
        data=json_in_html(data),
    )
    style, script = style_sheet("page"), page_script()
    return page_document(
        title, body, language=language, style=style, script=script, to_the_edges=True
    )


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


def _home_link(home: str, language: str) -> str:
    text = index_words(language).home
    return f'\n<nav id="home"><a href="{escape(home)}">{escape(text)}</a></nav>'


# -- sheets --------------------------------------------------------------------------------


def _tune_data(page: SheetPage, drawn: Mapping[str, DrawnSheet], language: str) -> dict[str, Any]:
    widths = {width: sheet._asdict() for width, sheet in drawn.items()}
    return {
        "title": title_said(page.tune.title, language),
        "said": [said_in(fact, language) for fact in page.said],
        "buttons": _buttons(page),
        **widths,
    }


def _places_data(page: SheetPage, drawn: Mapping[str, DrawnSheet], language: str) -> dict[str, Any]:
    """The same of a tune whose drawings stand in the page already: where all is on them."""
    bare = {
        width: {"lines": [{**line, "svg": None} for line in sheet.lines]}
        for width, sheet in drawn.items()
    }
    return {**_tune_data(page, {}, language), **bare}


def _buttons(page: SheetPage) -> list[list[tuple[float, str, str]]]:
    """The buttons of each written bar: where in it (whole notes), how they are written, which
    way the bellows go; none where the sheet is for no box."""
    if page.fit is None:
        return []
    return [
        [
            (round(float(note.onset), 5), button_sign(played.presses), str(played.direction))
            for note, played in zip(notes, row, strict=True)
            if played
        ]
        for notes, row in zip(
            page.tune.melody.bars, fingered_bars(page.tune, page.fit.fingering), strict=True
        )
    ]


def _track(words: Mapping[str, str], role: Role) -> str:
    """A track to be heard or not, and how loud."""
    name = words[role]
    loud = escape(words["loud"].replace("{track}", name))
    return (
        f'<button id="{role}" aria-pressed="true">{escape(name)}</button>'
        f'<input id="loud-{role}" type="range" min="10" max="130" step="5" value="100" '
        f'aria-label="{loud}">'
    )


def _plain_sheet(
    tunes: Sequence[tuple[SheetPage, Mapping[str, DrawnSheet]]], language: str
) -> Iterable[str]:
    """The first sheet as it is shown before any script runs, in each width."""
    sheets = [sheet for _, drawn in tunes for sheet in drawn.values()]
    yield _glyphs({name: path for sheet in sheets for name, path in sheet.glyphs.items()})
    for page, drawn in tunes:
        title = escape(title_said(page.tune.title, language))
        if len(tunes) > 1:
            yield f"<h2>{title}</h2>"
        yield from (f"<p>{escape(said_in(fact, language))}</p>" for fact in page.said)
        for width, sheet in drawn.items():
            yield f'<div class="{width}">'
            for line in sheet.lines:
                kinds = "line part" if line["part"] else "line"
                yield f'<div class="{kinds}" role="img" aria-label="{title}">{line["svg"]}</div>'
            yield "</div>"


def _glyphs(glyphs: Mapping[str, str]) -> str:
    svg = Element("svg", {"class": "glyphs"})
    for name, outline in glyphs.items():
        SubElement(svg, "path", {"id": name, "d": outline, "transform": "scale(1,-1)"})
    return ElementTree.tostring(svg, encoding="unicode")
