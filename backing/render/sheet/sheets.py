"""A sheet, or a book of them, from its pages."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from backing.errors import Notice
from backing.language.tables import name_in, text_in
from backing.music.saying import Fact, said_in, title_said
from backing.music.tune import Tune
from backing.render.sheet.look import MARGIN, PAPERS, SheetLook, SheetPage
from backing.render.sheet.pages import LaidPage, facts_of, lay_page, named_key, title_of
from backing.render.sheet.printable import INSTEAD, unprintable
from backing.render.sheet.staff import FirstBars, first_bars
from backing.render.sheet.typeset import PageFormat, typeset


class Sheet(NamedTuple):
    """The files of a sheet (one for all pages, or one a page), and what there is to say."""

    files: tuple[bytes, ...]
    notices: tuple[Notice, ...]


def render_sheet(
    pages: Sequence[SheetPage],
    look: SheetLook,
    kind: PageFormat = "pdf",
    *,
    keywords: Sequence[str] = (),
) -> Sheet:
    """A sheet with a page, or as many as it needs, for each of these.

    `keywords` go into the metadata of a PDF.
    """
    first = pages[0].tune
    language = look.language
    about = [name_in(language, "dances", first.dance), named_key(first, language)]
    boxes = [page.fit.layout.name for page in pages if page.fit]
    if boxes:
        about.append(said_in(Fact("for-boxes", {"boxes": [*boxes]}), language))
    head = {
        "title": title_said(first.title, language), "authors": list(first.composers),
        "keywords": list(keywords), "description": ", ".join(filter(None, about)), "book": False,
    }  # fmt: skip
    return _set(head, [lay_page(page, look, f"p{at}") for at, page in enumerate(pages)], look, kind)


def render_book(
    title: str,
    tunes: Iterable[Sequence[SheetPage]],
    look: SheetLook,
    kind: PageFormat = "pdf",
    *,
    keywords: Sequence[str] = (),
) -> Sheet:
    """A book: contents, the pages of each tune, and an index of first bars by key.

    Of each tune there is at least one page; they are asked for one after the other.
    """
    laid: list[LaidPage] = []
    contents: list[dict[str, str]] = []
    starts: list[_Start] = []
    for number, pages in enumerate(tunes):
        tune, mark = pages[0].tune, f"tune-{number}"
        made = [lay_page(page, look, f"t{number}p{at}") for at, page in enumerate(pages)]
        made[0].data["mark"] = mark
        laid += made
        facts = ", ".join(facts_of(tune, look.language))
        contents.append({"title": title_of(tune, look.language), "facts": facts, "mark": mark})
        starts.append(_Start(tune, mark, first_bars(tune, look)))
    count = len(contents)
    head = {
        "title": title, "authors": [], "keywords": list(keywords), "book": True,
        "description": said_in(Fact("tunes", {"count": count}, count), look.language),
        "contents": contents, "index": _index(starts, look.language),
    }  # fmt: skip
    drawings = {f"{start.mark}.svg": start.drawing.svg for start in starts}
    return _set(head, [*laid, LaidPage({}, drawings)], look, kind)


class _Start(NamedTuple):
    tune: Tune
    mark: str
    drawing: FirstBars


def _index(starts: Sequence[_Start], language: str) -> list[dict[str, Any]]:
    """The tunes key by key, in each of them by their first notes, the lower ones first."""
    keys: dict[str, list[_Start]] = {}
    for start in starts:
        key = named_key(start.tune, language) or text_in(language, "no-key")
        keys.setdefault(key, []).append(start)
    return [
        {
            "name": name,
            "tunes": [
                {
                    "title": title_of(s.tune, language),
                    "mark": s.mark,
                    "file": f"{s.mark}.svg",
                    "width": s.drawing.width,
                }
                for s in sorted(keys[name], key=_steps)
            ],
        }
        for name in sorted(keys)
    ]


def _steps(start: _Start) -> list[int]:
    """How far a tune's notes lie above its key note, within the octave of the first."""
    keys = [note.pitches[-1].midi for note in start.tune.notes()]
    lowest = keys[0] - (keys[0] - start.tune.key.tonic) % 12 if keys else 0
    return [key - lowest for key in keys]


def _set(
    head: Mapping[str, Any], laid: Sequence[LaidPage], look: SheetLook, kind: PageFormat
) -> Sheet:
    data = {
        **head, "labels": _labels(look), "paper": PAPERS[look.paper][2], "margin": MARGIN,
        "text": look.text, "pages": [one.data for one in laid if one.data],
    }  # fmt: skip
    drawings = {name: svg for one in laid for name, svg in one.drawings.items()}
    lacking = unprintable([*_texts(data), *drawings.values()])
    if lacking:
        instead = str.maketrans(dict.fromkeys(lacking, INSTEAD))
        data = _replaced(data, instead)
        drawings = {name: svg.translate(instead) for name, svg in drawings.items()}
    return Sheet(typeset(data, drawings, kind), tuple(_notices(lacking)))


def _labels(look: SheetLook) -> dict[str, str]:
    """What the setting itself says."""
    push, pull = look.ways
    return {
        "language": look.language, "push": push, "pull": pull,
        "board": text_in(look.language, "left-board"),
        "index": text_in(look.language, "first-bars"),
    }  # fmt: skip


def _notices(lacking: frozenset[str]) -> Iterator[Notice]:
    if lacking:
        signs = " ".join(
            sign if sign.isprintable() else f"U+{ord(sign):04X}" for sign in sorted(lacking)[:8]
        )
        yield Notice(
            f"the sheet's fonts have no {signs}{' …' if len(lacking) > 8 else ''}",
            f"{INSTEAD} stands in the place of each",
        )


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        yield from (text for one in value.values() for text in _texts(one))
    elif isinstance(value, Iterable):
        yield from (text for one in value for text in _texts(one))


def _replaced(value: Any, instead: Mapping[int, str]) -> Any:
    if isinstance(value, str):
        return value.translate(instead)
    if isinstance(value, Mapping):
        return {name: _replaced(one, instead) for name, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [_replaced(one, instead) for one in value]
    return value
