"""`backing sheet`: a tune, or a book of them, on paper."""

import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace as with_changed
from enum import StrEnum
from pathlib import Path
from typing import Annotated, NamedTuple

import typer

from backing.box.costs import PROFILES, USUAL, Costs
from backing.box.handout import handout
from backing.box.layout import Layout
from backing.box.under_notes import with_buttons
from backing.cli import typed
from backing.cli.options import (
    BOX,
    FILE,
    WHAT,
    BeatOption,
    DanceOption,
    LanguageOption,
    MetreOption,
    ReplaceOption,
    TuneArgument,
    TuneNumber,
    VoiceOption,
)
from backing.cli.printing import say, say_notices, say_reading
from backing.errors import BackingError, FileError, Notice, TuneError, UsageError
from backing.files import Reading, check_output, name_for, read_tune, save, tunes_in
from backing.files.boxes import load_box, load_costs
from backing.files.marks import UNSEALED
from backing.harmony.source import ChordSource, with_chords_from
from backing.language.tables import ENGLISH
from backing.music.dance_found import about_dance
from backing.music.saying import said_in
from backing.music.tune import Tune
from backing.parse.abc import TuneText, tune_of
from backing.render.musicxml import render_musicxml
from backing.render.sheet.look import SheetLook, SheetPage
from backing.render.sheet.sheets import Sheet, render_book, render_sheet
from backing.render.sheet.typeset import PageFormat
from backing.wording import count, listed

_KINDS: dict[str, PageFormat] = {".pdf": "pdf", ".svg": "svg", ".png": "png"}
_SUFFIXES = (*_KINDS, ".musicxml")
#: No more tunes than these go into one book: their drawings fill about half a gigabyte.
_MOST_TUNES = 500


class Only(StrEnum):
    """What alone a sheet shows."""

    NOTES = "notes"
    BUTTONS = "buttons"
    GRID = "grid"


class Paper(StrEnum):
    """What it is printed on."""

    A4 = "A4"
    LETTER = "letter"


class _ForWhom(NamedTuple):
    """The boxes that a sheet is for, and how it is fingered and chorded for them."""

    boxes: tuple[Layout, ...]
    costs: Costs
    chords: ChordSource | None
    same_key: bool
    grid: bool
    dance: str

    def pages(self, tune: Tune) -> tuple[list[SheetPage], tuple[Notice, ...]]:
        """The pages of a tune, and what there is to say about its chords."""
        tune = with_changed(tune, dance=self.dance or tune.dance)
        taken = about_dance(tune)
        said: tuple[Notice, ...] = ()
        if self.boxes or self.grid or self.chords:
            only = self.boxes[0].all_chords if self.boxes else ()
            tune, said = with_chords_from(tune, self.chords, only)
        if not self.boxes:
            return [SheetPage(tune)], (*taken, *said)
        made = handout(tune, self.boxes, self.costs, same_key=self.same_key)
        return [SheetPage(*page) for page in made], (*taken, *said)


def sheet(
    tune: TuneArgument,
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="The file to write: .pdf, .svg, .png, or .musicxml for a notation program. "
            "Without it a .pdf here, named after the tune.",
            show_default=False,
            rich_help_panel=FILE,
        ),
    ] = None,
    box: Annotated[
        str,
        typer.Option(
            help="The box, or boxes: D/G,G/C. The first is the one that the tune stands for; "
            "each other one gets a page with the same buttons, in its own key.",
            metavar="BOX",
            show_default=False,
            rich_help_panel=BOX,
        ),
    ] = "",
    same_key: Annotated[
        bool,
        typer.Option(
            "--same-key",
            help="Leave the tune in its key for every box, so that all can play together.",
            rich_help_panel=BOX,
        ),
    ] = False,
    only: Annotated[
        Only | None,
        typer.Option(
            help="notes: without buttons. buttons: no staff, but lines that show how long each "
            "is held. grid: the chords alone, bars as boxes.",
            show_default=False,
            rich_help_panel=WHAT,
        ),
    ] = None,
    air: Annotated[
        bool,
        typer.Option("--air", help="Mark where the air button goes.", rich_help_panel=BOX),
    ] = False,
    fingers: Annotated[
        bool,
        typer.Option(
            "--fingers", help="Number the finger where the hand moves.", rich_help_panel=BOX
        ),
    ] = False,
    hard: Annotated[
        bool, typer.Option("--hard", help="Mark the hardest bars.", rich_help_panel=BOX)
    ] = False,
    profile: Annotated[
        str,
        typer.Option(
            help=f"How to finger it: {', '.join(PROFILES)}, or a file of yours (.toml).",
            show_default=False,
            rich_help_panel=BOX,
        ),
    ] = "",
    chords: Annotated[
        ChordSource | None,
        typer.Option(
            help="Where the chords come from. Without it they are the tune's own, found where it "
            "has none and a box or a grid needs them.",
            show_default=False,
            rich_help_panel=WHAT,
        ),
    ] = None,
    large: Annotated[
        bool, typer.Option("--large", help="Print it big.", rich_help_panel=FILE)
    ] = False,
    paper: Annotated[
        Paper, typer.Option(help="What it is printed on.", rich_help_panel=FILE)
    ] = Paper.A4,
    language: LanguageOption = ENGLISH,
    replace: ReplaceOption = False,
    number: TuneNumber = "",
    dance: DanceOption = "",
    voice: VoiceOption = "",
    metre: MetreOption = "",
    beat: BeatOption = "",
) -> None:
    """Print a tune: notes, chords, and the buttons of a box; or a whole book of tunes.

    Examples:

      backing sheet examples/the-towpath-mare.abc --box D/G,G/C

      backing sheet examples/the-towpath-mare.abc --only grid -o chords.pdf

      backing sheet examples/canal-book.abc --box D/G -o book.pdf
    """
    typed.dance(dance)
    typed.language(language)
    _check(box, only, same_key or air or fingers or hard or bool(profile))
    if output is not None:
        check_output(output, tune, _SUFFIXES, replace=replace)
    whom = _ForWhom(
        tuple(load_box(name.strip()) for name in box.split(",")) if box else (),
        load_costs(profile or USUAL), chords, same_key, only is Only.GRID, dance,
    )  # fmt: skip
    say_notices(whom.costs.notices)
    kind = {Only.BUTTONS: "strip", Only.GRID: "grid"}.get(only or Only.NOTES, "staff")
    buttons = only is not Only.NOTES
    look = SheetLook(str(paper), kind, large, buttons, fingers, air, hard, language)
    book = [] if number or metre or beat else tunes_in(tune)
    suffix = output.suffix.lower() if output else ".pdf"
    if book:
        made, said = _book(book, tune, whom, look, suffix, voice)
    else:
        reading = read_tune(tune, number, voice=voice, told=typed.played_as(metre, beat))
        made, said = _one(reading, whom, look, suffix)
    boxes = tuple(one.name for one in whom.boxes)
    output = output or Path(name_for(tune.stem if book else reading.tune.title, boxes, suffix))
    files = _files(output, len(made.files))
    for file in files:
        check_output(file, tune, _SUFFIXES, replace=replace)
    for file, data in zip(files, made.files, strict=True):
        save(file, data, replace=replace)
    say_notices(made.notices)
    say(f"printed {listed([str(file) for file in files])}: {said}")


def _files(output: Path, number: int) -> list[Path]:
    """The files for so many pages: several are numbered."""
    if number == 1:
        return [output]
    return [output.with_stem(f"{output.stem}-{page}") for page in range(1, number + 1)]


def _check(box: str, only: Only | None, for_a_box: bool) -> None:
    if not box and only is Only.BUTTONS:
        raise UsageError("--only buttons is for a box", "say which: --box D/G")
    if not box and for_a_box:
        raise UsageError(
            "--same-key, --air, --fingers, --hard and --profile are for a box",
            "say which: --box D/G",
        )


def _one(reading: Reading, whom: _ForWhom, look: SheetLook, suffix: str) -> tuple[Sheet, str]:
    """The sheet of one tune, and what is said of it."""
    pages, notices = whom.pages(reading.tune)
    say_reading(reading, *notices)
    said = [
        reading.tune.title,
        *(said_in(fact).rstrip(".") for page in pages for fact in page.said),
    ]
    if suffix == ".musicxml":
        return Sheet(tuple(_scores(pages, look)), ()), "; ".join(said)
    return render_sheet(pages, look, _KINDS[suffix], keywords=[UNSEALED]), "; ".join(said)


def _scores(pages: Sequence[SheetPage], look: SheetLook) -> Iterator[bytes]:
    """Each page as a score for a notation program: the buttons are its last verses."""
    for page in pages:
        buttons = page.fit is not None and look.buttons
        tune = with_buttons(page.tune, page.fit.fingering) if page.fit and buttons else page.tune
        yield render_musicxml(tune).encode("utf-8")


# -- books ---------------------------------------------------------------------------------


def _book(
    texts: Sequence[TuneText], path: Path, whom: _ForWhom, look: SheetLook, suffix: str, voice: str
) -> tuple[Sheet, str]:
    """A book of tunes, and how many there are in it; those that cannot be read are left out,
    and said."""
    if suffix == ".musicxml":
        raise UsageError("a score holds one tune", "choose one with --tune, or say -o book.pdf")
    if len(texts) > _MOST_TUNES:
        raise FileError(
            f"{path.name} has {len(texts)} tunes: more than {_MOST_TUNES} do not go into one book",
            "choose one with --tune, or part the book",
        )
    left_out: list[Notice] = []
    with _shown(texts, path.name) as shown:
        pages = _pages_of(shown, whom, voice, left_out)
        made = render_book(path.stem, pages, look, _KINDS[suffix], keywords=[UNSEALED])
    say_notices(left_out, path.name)
    return made, count(len(texts) - len(left_out), "tune")


@contextmanager
def _shown(texts: Sequence[TuneText], name: str) -> Iterator[Iterable[TuneText]]:
    """The same texts; on a terminal a bar shows how far they are."""
    if not sys.stderr.isatty():
        yield texts
        return
    with typer.progressbar(texts, label=f"printing {name}", file=sys.stderr) as shown:
        yield shown


def _pages_of(
    texts: Iterable[TuneText], whom: _ForWhom, voice: str, left_out: list[Notice]
) -> Iterator[list[SheetPage]]:
    number = 0
    for number, text in enumerate(texts, 1):
        try:
            found, _ = whom.pages(tune_of(text, voice=voice))
        except BackingError as error:
            title = text.title or f"tune {number}"
            left_out.append(Notice(f"{title} is left out: {error.message}", error.hint))
            continue
        yield found
    if len(left_out) == number:
        raise TuneError(left_out[0].message, left_out[0].hint)
