"""`backing page`: a page that shows a tune and plays it, in any browser."""

import os
from pathlib import Path
from typing import Annotated

import typer

from backing.cli import typed
from backing.cli.asking import read_asked
from backing.cli.options import FILE, LEFT_HAND, LanguageOption, ReplaceOption, TuneArgument
from backing.cli.page_making import (
    PageMade,
    page_of_practice,
    page_of_tune,
    page_text,
    page_wish,
)
from backing.cli.practising import practice_asked
from backing.cli.printing import say, say_notices, say_reading
from backing.cli.wish import Wish, takes_a_wish
from backing.errors import UsageError
from backing.files import check_output, name_for, save
from backing.files.toml_files import is_toml
from backing.language.tables import ENGLISH

_SUFFIXES = (".html", ".htm")
#: What a name ends in that means a folder.
_SLASHES = tuple({"/", os.sep})


@takes_a_wish
def page(
    tune: TuneArgument,
    wish: Wish,
    output: Annotated[
        str,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="The file to write (.html). Without it one here, named after the tune. A folder "
            "(site/) for a site: a page for each tune of a book or a folder, and their index.",
            show_default=False,
            rich_help_panel=FILE,
        ),
    ] = "",
    styles: Annotated[
        str,
        typer.Option(
            help="The styles to choose from in the page: sustained,alternating,drone; the first "
            "sounds at first. Without it the one of --style, or the one for the dance.",
            metavar="STYLES",
            show_default=False,
            rich_help_panel=LEFT_HAND,
        ),
    ] = "",
    language: LanguageOption = ENGLISH,
    sheets: Annotated[
        bool,
        typer.Option(
            "--sheets",
            help="For a site: with each page the tune on paper, a PDF for each box.",
            rich_help_panel=FILE,
        ),
    ] = False,
    remove_gone: Annotated[
        bool,
        typer.Option(
            "--remove-gone",
            help="For a site: remove the pages of tunes that are no longer in the book.",
            rich_help_panel=FILE,
        ),
    ] = False,
    replace: ReplaceOption = False,
) -> None:
    """Make a page of a tune: one file that shows it and plays it, on a phone too.

    It needs no network and no other program: whoever gets the file opens it in a browser, taps
    a bar to go round in it, and changes tempo, tracks, style and box while it sounds. With
    several boxes (--box D/G,G/C) each shows the same buttons in its own key.

    Examples:

      backing page examples/the-lock-keepers-kettle.abc -o kettle.html

      backing page examples/the-towpath-mare.abc --box D/G,G/C --styles alternating,drone -o mare.html

      backing page examples/canal-book.abc --box D/G,G/C -o site/
    """  # noqa: E501 - a command is copied whole
    typed.language(language)
    if output.endswith(_SLASHES) or (output and Path(output).is_dir()):
        from backing.cli.site import make_site
        from backing.cli.site_work import SiteWish

        asked = SiteWish(wish, styles, sheets, language)
        if not make_site(tune, Path(output), asked, replace=replace, remove=remove_gone):
            raise typer.Exit(1)
        return
    if sheets or remove_gone:
        raise UsageError(
            "--sheets and --remove-gone are for a site", "name a folder for it: -o site/"
        )
    if tune.is_dir():
        raise UsageError(f"{tune} is a folder of tunes", "name a folder for its site: -o site/")
    path = Path(output) if output else None
    if path and not path.suffix:
        raise UsageError(
            f"{path} is neither a page nor a folder",
            f"a page is {path.name}.html; a site goes into a folder, with a slash: {path}/",
        )
    if path:
        check_output(path, tune, _SUFFIXES, replace=replace)
    if (is_toml(tune.name) or wish.then) and (styles or "," in wish.box):
        raise UsageError(
            "a practice of several steps has its own styles, and one box", "leave --styles out"
        )
    whole = practice_asked(tune, wish, language)
    if whole:
        made = page_of_practice(whole.practice, whole.tuning)
    else:
        made = _from_tune(tune, wish, styles)
    text = page_text(made, endless=not (whole or wish.times), language=language)
    if path is None:
        path = Path(name_for(made.title, tuple(s.box for s in made.sheets if s.box), ".html"))
        check_output(path, tune, _SUFFIXES, replace=replace)
    data = text.encode("utf-8")
    save(path, data, replace=replace)
    size = f"{round(len(data) / 1000)} KB"
    say(f"made {path}: {', '.join([made.title, *made.said, size])}; open it in a browser")


def _from_tune(path: Path, wish: Wish, styles: str) -> PageMade:
    """A tune for each box and style."""
    wanted = page_wish(wish, styles)
    reading = read_asked(path, wish)
    say_reading(reading)
    made = page_of_tune(reading.tune, wanted)
    say_notices(made.notices)
    return made
