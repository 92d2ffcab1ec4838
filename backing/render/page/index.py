"""The index of a site: all its tunes in one page, to search as one types; without a script a plain
list of links.

Whatever a title says is text here: it is escaped, and the policy lets only our own script run.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from html import escape
from importlib.resources import files
from typing import NamedTuple
from unicodedata import combining, normalize
from urllib.parse import quote

from backing.box.grade import grade_of
from backing.box.hardness import hardness_on
from backing.language.tables import ENGLISH, name_in
from backing.music.dance import dance_of
from backing.music.saying import key_said, opened, title_said
from backing.render.page.document import from_template, page_document
from backing.render.page.index_words import IndexWords, index_words
from backing.render.page.page import PageSheet, json_in_html
from backing.render.page.style import style_sheet

#: Words that do not count where titles are put in order.
_ARTICLES = re.compile(r"(?:the|an?|der|die|das|les?|la|l) (?=.)")

#: Numbers in titles are in order as numbers, up to so many digits.
_DIGITS = 8


class RowOnBox(NamedTuple):
    """A tune as it is on a box ("" for none): its key as `str(Key)`, "" for none; its grade from 1
    for the easiest, 0 where notes are missing there."""

    box: str
    key: str
    grade: int


class IndexRow(NamedTuple):
    """A tune in the index: the files of its page and its sheets, beside the index; its title and
    its other titles; its dance; how it is on each box, none for a practice of several steps."""

    page: str
    title: str
    also: tuple[str, ...]
    dance: str
    boxes: tuple[RowOnBox, ...]
    sheets: tuple[str, ...]


def index_row(
    page: str, title: str, sheets: Sequence[PageSheet], files: Sequence[str] = (), *,
    practice: bool = False,
) -> IndexRow:  # fmt: skip
    """What the index says of a page with these sheets; `files` are its sheets on paper.

    A title that shows nothing is no name for a link: the page's own stands for it.
    """
    if not any(sign.isprintable() and not sign.isspace() for sign in title):
        title = page.rpartition(".")[0]
    if practice:
        return IndexRow(page, title, (), "", (), tuple(files))
    tune = sheets[0].tunes[0].tune
    dance = dance_of(tune.dance, tune.metre)
    also = tuple(dict.fromkeys(other for other in tune.titles if other and other != title))
    boxes = tuple(_on_box(sheet) for sheet in sheets)
    return IndexRow(page, title, also, dance.name if dance else tune.dance, boxes, tuple(files))


def _on_box(sheet: PageSheet) -> RowOnBox:
    tune, fit, _ = sheet.tunes[0]
    key = "" if tune.key.mode == "none" else str(tune.key)
    grade = grade_of(hardness_on(fit.fingering)).level if fit and fit.fits else 0
    return RowOnBox(sheet.box, key, grade)


def render_index(title: str, rows: Sequence[IndexRow], language: str = ENGLISH) -> str:
    """The index, as a page of its own ("" for a site without a title); the rows are put in the
    order of their titles."""
    words = index_words(language)
    title = title or opened(words.home)
    boxes = next((row.boxes for row in rows if row.boxes), ())
    graded = bool(boxes) and bool(boxes[0].box)
    printed = any(row.sheets for row in rows)
    made = (_row(row, language, graded=graded, printed=printed) for row in by_title(rows))
    said = {"one": words.one, "found": words.found, "some": words.some, "none": words.none}
    filters = [("dance", words.every_dance), ("key", words.every_key)]
    filters += [("grade", words.every_grade)] if graded else []
    heads = [("title", words.title), ("dance", words.dance), ("key", words.key)]
    heads += [("grade", words.grade)] if graded else []
    heads += [("sheet", words.sheet)] if printed else []
    body = from_template(
        "index",
        title=escape(title),
        search=escape(words.search),
        hint=escape(words.hint),
        clear=escape(words.clear),
        filters=_filters(words, filters, [each.box for each in boxes]),
        found=escape((words.one if len(rows) == 1 else words.found).format(all=len(rows))),
        columns=len(heads) - 1,
        heads="".join(
            f'<th role="columnheader" scope="col" class="{name}">{escape(text)}</th>'
            for name, text in heads
        ),
        rows="\n".join(made),
        said=json_in_html(said),
    )
    script = files(__package__).joinpath("index.js").read_text(encoding="utf-8")
    return page_document(title, body, language=language, style=style_sheet("index"), script=script)


def by_title(rows: Sequence[IndexRow]) -> list[IndexRow]:
    """The rows by their titles; case, accents, signs and an article at the start do not count.

    >>> titles = ("The Élan", "Eel 10", "eel 9", "Die Eule")
    >>> rows = [IndexRow("", title, (), "", (), ()) for title in titles]
    >>> [row.title for row in by_title(rows)]
    ['eel 9', 'Eel 10', 'The Élan', 'Die Eule']
    """
    return sorted(rows, key=lambda row: (_order_of(row.title), row.title, row.page))


def _order_of(title: str) -> str:
    apart = normalize("NFKD", title.casefold())
    bare = "".join(sign for sign in apart if not combining(sign))
    words = re.sub(r"[\W_]+", " ", re.sub(r"['’‘ʼ]", "", bare)).strip()
    numbered = re.sub(r"\d+", lambda digits: digits[0].zfill(_DIGITS), words)
    return _ARTICLES.sub("", numbered, count=1) if _ARTICLES.match(numbered) else numbered


def _filters(words: IndexWords, filters: Sequence[tuple[str, str]], boxes: Sequence[str]) -> str:
    """A choice for each column that there is one for; their values come from the rows."""
    labels = words._asdict()
    made = [
        f'<label for="{name}">{escape(labels[name])} <select id="{name}">'
        f'<option value="">{escape(every)}</option></select></label>'
        for name, every in filters
    ]
    if len(boxes) > 1:
        options = "".join(
            f'<option value="{at}">{escape(box)}</option>' for at, box in enumerate(boxes)
        )
        made.append(
            f'<label for="box">{escape(words.box)} <select id="box">{options}</select></label>'
        )
    return "\n".join(made)


def _row(row: IndexRow, language: str, *, graded: bool, printed: bool) -> str:
    words = index_words(language)
    link = f'<a href="{_url(row.page)}">{escape(title_said(row.title, language))}</a>'
    also = (
        f" <small>{escape(words.also)}: {escape('; '.join(row.also))}</small>" if row.also else ""
    )
    dance = name_in(language, "dances", row.dance) if row.boxes else words.practice
    cells = [
        f'<th role="rowheader" scope="row" class="title">{link}{also}</th>',
        f'<td role="cell" class="dance">{escape(dance)}</td>',
        f'<td role="cell" class="key">{"".join(_spans(_keys(row, language)))}</td>',
    ]
    if graded:
        cells.append(f'<td role="cell" class="grade">{"".join(_spans(_grades(row, words)))}</td>')
    if printed:
        names = [each.box or "PDF" for each in row.boxes] or ["PDF"] * len(row.sheets)
        links = [
            f'<a href="{_url(file)}" type="application/pdf">{escape(name)}</a>'
            for file, name in zip(row.sheets, names, strict=False)
        ]
        cells.append(f'<td role="cell" class="sheet">{" ".join(links)}</td>')
    return f'<tr role="row">{"".join(cells)}</tr>'


def _keys(row: IndexRow, language: str) -> Iterator[tuple[str, Mapping[str, str]]]:
    for each in row.boxes:
        yield key_said(each.key, language), {}


def _grades(row: IndexRow, words: IndexWords) -> Iterator[tuple[str, Mapping[str, str]]]:
    for each in row.boxes:
        known = 0 < each.grade <= len(words.grades)
        text = words.grades[each.grade - 1] if known else words.missing
        yield text, {"data-n": str(each.grade)}


def _spans(texts: Iterator[tuple[str, Mapping[str, str]]]) -> Iterator[str]:
    """A text for each box, of which the first is shown at first."""
    for at, (text, data) in enumerate(texts):
        told = "".join(f' {name}="{escape(value)}"' for name, value in data.items())
        yield f"<span{told}{' hidden' if at else ''}>{escape(text)}</span>"


def _url(file: str) -> str:
    """A file beside the index as a relative URL (RFC 3986); never one with a scheme."""
    return escape(quote(file, safe=""))
