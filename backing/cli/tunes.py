"""`backing tunes`: what is in a book, one tune a line."""

from typing import Annotated

import typer

from backing.cli import typed
from backing.cli.options import TuneArgument
from backing.cli.printing import say, show
from backing.errors import BackingError
from backing.files import read_book
from backing.music.dance import find_dance
from backing.music.dance_found import dance_in_title
from backing.parse.abc import (
    Head,
    TuneText,
    has_in_title,
    read_head,
    references,
    tune_of,
)
from backing.wording import count

_HEADINGS = ("number", "title", "dance", "key", "metre", "bars")
_WIDEST = 48


def tunes(
    book: TuneArgument,
    text: Annotated[
        str, typer.Option(help="Only tunes whose title holds this.", show_default=False)
    ] = "",
    key: Annotated[
        str, typer.Option(help="Only tunes in this key: G, Em, Ador ...", show_default=False)
    ] = "",
    dance: Annotated[
        str, typer.Option(help="Only this dance: reel, jig, waltz ...", show_default=False)
    ] = "",
) -> None:
    """List the tunes of a book: number, title, dance, key, metre, bars.

    The number is what to say after --tune; 12.2 is the second tune with number 12.

    Example:  backing tunes examples/canal-book.abc --dance waltz
    """
    wanted_key = typed.key(key, "--key") if key else None
    found, notices = read_book(book)
    rows: list[tuple[str, ...]] = []
    for reference, tune in zip(references(found), found, strict=True):
        head = read_head(tune)
        if not has_in_title(tune, text):
            continue
        if dance and not _is_dance(head, tune.title, dance):
            continue
        if wanted_key is not None and head.key != wanted_key:
            continue
        rows.append(
            (reference, tune.title, head.dance, str(head.key or ""), head.metre, _bars(tune))
        )
    for line in _table(rows):
        show(line)
    for notice in notices:
        say(notice.text(book.name))
    say(f"{len(rows)} of {count(len(found), 'tune')}")


def _is_dance(head: Head, title: str, wanted: str) -> bool:
    """True where both words mean the same dance, or the one holds the other; where none is
    told the title may name it."""
    asked, given = find_dance(wanted), find_dance(head.dance)
    name = given.name if given else None if head.dance else dance_in_title(title)
    same = asked is not None and asked.name == name
    return same or wanted.lower() in head.dance.lower()


def _bars(tune: TuneText) -> str:
    """How many full bars are written; a question mark where the tune cannot be read."""
    try:
        return str(sum(1 for bar in tune_of(tune).bars if not bar.pickup))
    except BackingError:
        return "?"


def _table(rows: list[tuple[str, ...]]) -> list[str]:
    """The rows under their headings, in columns."""
    if not rows:
        return []
    table = [_HEADINGS, *(tuple(cell[:_WIDEST] for cell in row) for row in rows)]
    widths = [max(len(row[column]) for row in table) for column in range(len(_HEADINGS))]
    return [
        "  ".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in table
    ]
