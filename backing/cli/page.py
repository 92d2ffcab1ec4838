"""`backing page`: a page that shows a tune and plays it, in any browser."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, NamedTuple

import typer

from backing.box.costs import USUAL
from backing.box.handout import handout
from backing.cli.asking import a4_of, asked_for, in_key, tremolo_of
from backing.cli.options import FILE, LEFT_HAND, ReplaceOption, TuneArgument
from backing.cli.practising import practice_asked
from backing.cli.printing import say, say_notices
from backing.cli.wish import Wish, takes_a_wish
from backing.errors import Notice, UsageError
from backing.files import check_output, name_for, read_tune, save
from backing.files.boxes import load_box, load_costs
from backing.files.toml_files import is_toml
from backing.harmony.source import ChordSource, with_chords_from
from backing.music.tune import Tune
from backing.practice.backing import Backing, make_backing, without_thirds
from backing.practice.plan import Plan
from backing.practice.practice import Practice
from backing.render.page.music import PageChoice
from backing.render.page.page import PageSheet, render_page
from backing.render.page.words import ENGLISH, LANGUAGES
from backing.render.sheet.look import SheetPage
from backing.wording import count, either, listed

_SUFFIXES = (".html", ".htm")
#: No more than so many styles, and boxes, go into one page: each is arranged with each.
_MOST_STYLES, _MOST_BOXES = 8, 6


class _PageMade(NamedTuple):
    """What goes into a page, how it is tuned (as it would be typed), and what is said of it."""

    title: str
    choices: tuple[PageChoice, ...]
    sheets: tuple[PageSheet, ...]
    plan: Plan
    tuning: Wish
    said: tuple[str, ...]


@takes_a_wish
def page(
    tune: TuneArgument,
    wish: Wish,
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="The file to write (.html). Without it one here, named after the tune.",
            show_default=False,
            rich_help_panel=FILE,
        ),
    ] = None,
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
    language: Annotated[
        str,
        typer.Option(
            help="The language that the page speaks: " + either(LANGUAGES) + ".",
            metavar="LANGUAGE",
            rich_help_panel=FILE,
        ),
    ] = ENGLISH,
    replace: ReplaceOption = False,
) -> None:
    """Make a page of a tune: one file that shows it and plays it, on a phone too.

    It needs no network and no other program: whoever gets the file opens it in a browser, taps
    a bar to go round in it, and changes tempo, tracks, style and box while it sounds. With
    several boxes (--box D/G,G/C) each shows the same buttons in its own key.

    Examples:

      backing page examples/the-lock-keepers-kettle.abc -o kettle.html

      backing page examples/the-towpath-mare.abc --box D/G,G/C --styles alternating,drone -o mare.html
    """  # noqa: E501 - a command is copied whole
    if language not in LANGUAGES:
        raise UsageError(
            f"--language {language}: the page does not speak it",
            f"give {either(LANGUAGES)}",
        )
    if output:
        check_output(output, tune, _SUFFIXES, replace=replace)
    if (is_toml(tune.name) or wish.then) and (styles or "," in wish.box):
        raise UsageError(
            "a practice of several steps has its own styles, and one box", "leave --styles out"
        )
    whole = practice_asked(tune, wish)
    made = _from_practice(*whole) if whole else _from_tune(tune, wish, styles)
    text = render_page(
        made.title,
        made.choices,
        made.sheets,
        made.plan,
        endless=not (whole or wish.times),
        language=language,
        a4=a4_of(made.tuning),
        tremolo=tremolo_of(made.tuning),
    )
    if output is None:
        output = Path(name_for(made.title, tuple(s.box for s in made.sheets if s.box), ".html"))
        check_output(output, tune, _SUFFIXES, replace=replace)
    data = text.encode("utf-8")
    save(output, data, replace=replace)
    size = f"{round(len(data) / 1000)} KB"
    say(f"made {output}: {', '.join([made.title, *made.said, size])}; open it in a browser")


def _from_tune(path: Path, wish: Wish, styles: str) -> _PageMade:
    """A tune for each box and style."""
    if styles and wish.style:
        raise UsageError("--style and --styles both say which styles", "give one of them")
    names = _names(styles, "--styles", _MOST_STYLES) or [wish.style]
    boxes = _names(wish.box, "--box", _MOST_BOXES) or [""]
    asked = {
        (box, style): asked_for(wish._replace(box=box, style=style))
        for box in boxes
        for style in names
    }
    reading = read_tune(path, wish.number, voice=wish.voice)
    tune = in_key(reading.tune, wish.key) if wish.key else reading.tune
    say_notices((*reading.notices, *tune.notices), reading.name)
    first = asked[boxes[0], names[0]]
    only = first.box.all_chords if first.box else ()
    chorded, _ = with_chords_from(tune, wish.chords, only)
    chords = ChordSource.NONE if wish.chords is ChordSource.NONE else None
    tunes = _for_boxes(chorded, boxes, wish.profile)
    backings: dict[tuple[str, str], Backing] = {}
    for (box, style), each in asked.items():
        alike = backings.get((box, names[0]))
        backings[box, style] = make_backing(
            tunes[box][0] if box != boxes[0] else tune,
            each._replace(chords=chords if box != boxes[0] else wish.chords),
            fitted=alike.fit if alike else None,
        )
    _say_once([notice for backing in backings.values() for notice in backing.notices])
    choices = tuple(
        choice for (box, _), backing in backings.items() for choice in _with_thirds(box, backing)
    )
    sheets = tuple(
        PageSheet(box, (_sheet(backings[box, names[0]], tunes[box][1]),)) for box in boxes
    )
    shown = dict.fromkeys(choice.style for choice in choices)
    return _PageMade(
        tune.title, choices, sheets, choices[0].backings[0].plan, wish,
        (*([listed(boxes)] if boxes[0] else []), listed(list(shown))),
    )  # fmt: skip


def _with_thirds(box: str, backing: Backing) -> Iterator[PageChoice]:
    """A backing as it is; without the thirds of its chords too, where it has them."""
    style, thirds = _styles_of(backing), backing.manner.thirds
    yield PageChoice(box, style, (backing,), thirds)
    bare = without_thirds(backing) if thirds else backing
    if bare.arrangement.tracks != backing.arrangement.tracks:
        yield PageChoice(box, style, (bare,), thirds=False)


def _for_boxes(
    tune: Tune, boxes: Sequence[str], profile: str
) -> dict[str, tuple[Tune, tuple[str, ...]]]:
    """The tune as it is for each box, and what there is to say of it."""
    if boxes == [""]:
        return {"": (tune, ())}
    pages = handout(tune, [load_box(box) for box in boxes], load_costs(profile or USUAL))
    return {box: (found.tune, found.said) for box, found in zip(boxes, pages, strict=True)}


def _from_practice(practice: Practice, tuning: Wish) -> _PageMade:
    """A practice of several steps, or a set, as it is."""
    tunes: list[Backing] = []
    shown: list[int] = []
    for backing in practice.backings:
        same = [at for at, other in enumerate(tunes) if _looks_like(backing, other)]
        shown.append(same[0] if same else len(tunes))
        tunes += [] if same else [backing]
    pages = tuple(_sheet(backing, ()) for backing in tunes)
    choice = PageChoice("", "", practice.backings)
    said = (count(len(practice.plan.starts), "step"),)
    return _PageMade(
        practice.title, (choice,), (PageSheet("", pages, tuple(shown)),), practice.plan,
        tuning, said,
    )  # fmt: skip


def _looks_like(one: Backing, other: Backing) -> bool:
    """True for the same tune on the same box, whatever its style."""
    boxes = [each.fit.layout.name if each.fit else "" for each in (one, other)]
    return boxes[0] == boxes[1] and one.tune == other.tune


def _sheet(backing: Backing, said: tuple[str, ...]) -> SheetPage:
    return SheetPage(backing.tune, backing.fit, said)


def _styles_of(backing: Backing) -> str:
    return ", ".join(style.name for style in backing.styles.all)


def _names(text: str, option: str, most: int) -> list[str]:
    """Names with commas between them, each once."""
    found = list(dict.fromkeys(name.strip() for name in text.split(",") if name.strip()))
    if len(found) > most:
        raise UsageError(f"{len(found)} are too many for {option}", f"give up to {most}")
    return found


def _say_once(notices: Sequence[Notice]) -> None:
    say_notices(tuple(dict.fromkeys(notices)))
