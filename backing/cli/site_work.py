"""A page of a site, made from its tune, in whatever process: bytes and a row of the index."""

from collections.abc import Callable
from typing import NamedTuple

from backing.cli.asking import in_key, read_asked
from backing.cli.page_making import (
    PageMade,
    PageWish,
    page_of_practice,
    page_of_tune,
    page_text,
    page_wish,
)
from backing.cli.practice_making import read_practice
from backing.cli.wish import Wish
from backing.errors import BackingError, lay_out
from backing.files import Reading
from backing.files.marks import UNSEALED
from backing.files.site_names import INDEX, sheet_stems
from backing.files.site_pages import PAGE, SHEET, SitePage, with_site_line
from backing.files.site_tunes import SiteTune, tune_fault
from backing.language.tables import ENGLISH
from backing.parse.abc import tune_of
from backing.render.page.index import index_row
from backing.render.sheet.look import SheetLook
from backing.render.sheet.sheets import render_sheet

#: A practice has no one fingerprint: it is made from files of its own.
NO_MARK = "0" * 32


class SiteWish(NamedTuple):
    """What the pages of a site are to hold, as it was typed, and whether each has its sheets."""

    wish: Wish
    styles: str
    sheets: bool
    language: str = ENGLISH


class SiteJob(NamedTuple):
    """A page that is to be made, and the mark of what it is made from."""

    place: int
    tune: SiteTune
    made_from: str


class SiteMade(NamedTuple):
    """A page that was made: its files by their names, what it says of itself, and how many
    warnings there were; or what is wrong with its tune."""

    files: tuple[tuple[str, bytes], ...] = ()
    page: SitePage | None = None
    warnings: int = 0
    fault: str = ""


def site_maker(asked: SiteWish) -> Callable[[SiteJob], SiteMade]:
    """What makes a page for each job.  Raises BackingError where what was typed is not
    understood."""
    wanted = page_wish(asked.wish, asked.styles)

    def make(job: SiteJob) -> SiteMade:
        try:
            return _made(job, asked, wanted)
        except BackingError as error:
            return SiteMade(fault=tune_fault(job.tune, error))
        except Exception as error:
            said = f"its page cannot be made: {type(error).__name__}: {error}"
            hint = "this is a fault of backing: please send the tune to its makers"
            return SiteMade(fault=lay_out("error", said, hint, where=job.tune.place))

    return make


def _made(job: SiteJob, asked: SiteWish, wanted: PageWish) -> SiteMade:
    tune = job.tune
    if tune.practice:
        read = read_practice(tune.path)
        made = page_of_practice(read.practice, read.tuned(asked.wish))
        readings, notices = read.readings, read.notices
    else:
        readings = (_read(tune, asked.wish),)
        made = page_of_tune(readings[0].tune, wanted)
        notices = made.notices
    told = sum(len(each.notices) + len(each.tune.notices) for each in readings)
    endless = not (tune.practice or asked.wish.times)
    text = page_text(made, endless=endless, language=asked.language, home=f"{INDEX}{PAGE}")
    papers = _sheets(tune.stem, made, asked.language) if asked.sheets else []
    name = f"{tune.stem}{PAGE}"
    row = index_row(
        name, made.title, made.sheets, [name for name, _ in papers], practice=tune.practice
    )
    page = SitePage(job.made_from, row)
    return SiteMade(((name, with_site_line(text, page)), *papers), page, told + len(notices))


def _read(tune: SiteTune, wish: Wish) -> Reading:
    """The tune as it is in its file, in the key that was asked for."""
    if tune.text is None:
        return read_asked(tune.path, wish)
    found = in_key(tune_of(tune.text, voice=wish.voice), wish.key)
    return Reading(found, tune.where, (), tune.text)


def _sheets(stem: str, made: PageMade, language: str) -> list[tuple[str, bytes]]:
    """The music on paper for each box, with the same notes and buttons as on the page."""
    stems = sheet_stems(stem, [sheet.box for sheet in made.sheets])
    found = []
    for name, sheet in zip(stems, made.sheets, strict=True):
        paper = render_sheet(sheet.tunes, SheetLook(language=language), "pdf", keywords=[UNSEALED])
        found.append((f"{name}{SHEET}", paper.files[0]))
    return found
