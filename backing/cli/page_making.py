"""What goes into a page: a tune for each box and style, or a practice as it is."""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from backing.box.costs import USUAL
from backing.box.handout import ForBox, handout, lacking_notes
from backing.cli.asking import a4_of, asked_for, tremolo_of
from backing.cli.wish import Wish
from backing.errors import Notice, UsageError
from backing.files.boxes import load_box, load_costs
from backing.harmony.source import ChordSource, with_chords_from
from backing.language.tables import ENGLISH
from backing.music.saying import Fact, title_said
from backing.music.tune import Tune
from backing.practice.asked import Asked
from backing.practice.backing import Backing, make_backing, without_thirds
from backing.practice.passages import Whole
from backing.practice.plan import Plan
from backing.practice.practice import Practice
from backing.render.page.music import PageChoice
from backing.render.page.page import PageSheet, render_page
from backing.render.sheet.look import SheetPage
from backing.wording import count, listed

#: No more than so many styles, and boxes, go into one page: each is arranged with each.
_MOST_STYLES, _MOST_BOXES = 8, 6


class PageMade(NamedTuple):
    """What goes into a page, how it is tuned (as it would be typed), what is said of it, and what
    was odd in the making."""

    title: str
    choices: tuple[PageChoice, ...]
    sheets: tuple[PageSheet, ...]
    plan: Plan
    tuning: Wish
    said: tuple[str, ...]
    notices: tuple[Notice, ...] = ()


class PageWish(NamedTuple):
    """What pages are to hold: the boxes and styles to choose from ("" for none, and the usual),
    and what is asked for with each of each."""

    wish: Wish
    boxes: tuple[str, ...]
    styles: tuple[str, ...]
    asked: Mapping[tuple[str, str], Asked]


def page_wish(wish: Wish, styles: str) -> PageWish:
    """What was typed, read once for however many tunes.

    Raises BackingError where something cannot be understood or loaded.
    """
    if styles and wish.style:
        raise UsageError("--style and --styles both say which styles", "give one of them")
    names = _names(styles, "--styles", _MOST_STYLES) or [wish.style]
    boxes = _names(wish.box, "--box", _MOST_BOXES) or [""]
    asked = {
        (box, style): asked_for(wish._replace(box=box, style=style))
        for box in boxes
        for style in names
    }
    return PageWish(wish, tuple(boxes), tuple(names), asked)


def page_of_tune(tune: Tune, wanted: PageWish) -> PageMade:
    """A tune for each box and style."""
    wish, boxes, names, asked = wanted
    moved = _for_boxes(tune, wanted) if len(boxes) > 1 else {}
    chords = ChordSource.NONE if wish.chords is ChordSource.NONE else None
    backings: dict[tuple[str, str], Backing] = {}
    for (box, style), each in asked.items():
        alike = backings.get((box, names[0]))
        backings[box, style] = make_backing(
            moved[box].tune if box != boxes[0] else tune,
            each._replace(chords=chords if box != boxes[0] else wish.chords),
            fitted=alike.fit if alike else None,
        )
    notices = dict.fromkeys(notice for each in backings.values() for notice in each.notices)
    choices = tuple(
        choice for (box, _), backing in backings.items() for choice in _with_thirds(box, backing)
    )
    sheets = []
    for box in boxes:
        backing = backings[box, names[0]]
        said = moved[box].said if moved else _said_on_its_box(backing)
        sheets.append(PageSheet(box, (_sheet(backing, said),)))
    shown = dict.fromkeys(choice.style for choice in choices)
    return PageMade(
        tune.title, choices, tuple(sheets), choices[0].backings[0].plan, wish,
        (*([listed(boxes)] if boxes[0] else []), listed(list(shown))), tuple(notices),
    )  # fmt: skip


def page_of_practice(practice: Practice, tuning: Wish) -> PageMade:
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
    return PageMade(
        practice.title, (choice,), (PageSheet("", pages, tuple(shown)),), practice.plan,
        tuning, said,
    )  # fmt: skip


def page_text(
    made: PageMade, *, endless: bool, language: str = ENGLISH, home: str | None = None
) -> str:
    """The page itself, tuned as it was typed."""
    return render_page(
        made.title,
        made.choices,
        made.sheets,
        _called_by_tunes(made, language),
        endless=endless,
        language=language,
        a4=a4_of(made.tuning),
        tremolo=tremolo_of(made.tuning),
        home=home,
    )


def _called_by_tunes(made: PageMade, language: str) -> Plan:
    """The plan; where it is of several tunes a step through a whole one is called by its title, if
    it has no name of its own."""
    titles = [
        title_said(backing.arrangement.title, language) for backing in made.choices[0].backings
    ]
    if len(set(titles)) < 2:
        return made.plan
    steps = [
        step._replace(name=titles[step.piece])
        if not step.name and not step.rest and isinstance(step.span, Whole)
        else step
        for step in made.plan.steps
    ]
    return made.plan._replace(steps=tuple(steps))


def _with_thirds(box: str, backing: Backing) -> Iterator[PageChoice]:
    """A backing as it is; without the thirds of its chords too, where it has them."""
    style, thirds = _styles_of(backing), backing.manner.thirds
    yield PageChoice(box, style, (backing,), thirds)
    bare = without_thirds(backing) if thirds else backing
    if bare.arrangement.tracks != backing.arrangement.tracks:
        yield PageChoice(box, style, (bare,), thirds=False)


def _for_boxes(tune: Tune, wanted: PageWish) -> dict[str, ForBox]:
    """The tune as it is for each of several boxes, and what there is to say of it."""
    first = wanted.asked[wanted.boxes[0], wanted.styles[0]].box
    only = first.all_chords if first else ()
    chorded, _ = with_chords_from(tune, wanted.wish.chords, only)
    layouts = [load_box(box) for box in wanted.boxes]
    made = handout(chorded, layouts, load_costs(wanted.wish.profile or USUAL))
    return dict(zip(wanted.boxes, made, strict=True))


def _said_on_its_box(backing: Backing) -> tuple[Fact, ...]:
    """What there is to say of a tune on its only box."""
    return tuple(lacking_notes(backing.fit)) if backing.fit else ()


def _looks_like(one: Backing, other: Backing) -> bool:
    """True for the same tune on the same box, whatever its style."""
    boxes = [each.fit.layout.name if each.fit else "" for each in (one, other)]
    return boxes[0] == boxes[1] and one.tune == other.tune


def _sheet(backing: Backing, said: tuple[Fact, ...]) -> SheetPage:
    return SheetPage(backing.tune, backing.fit, said)


def _styles_of(backing: Backing) -> str:
    return ", ".join(style.name for style in backing.styles.all)


def _names(text: str, option: str, most: int) -> list[str]:
    """Names with commas between them, each once."""
    found = list(dict.fromkeys(name.strip() for name in text.split(",") if name.strip()))
    if len(found) > most:
        raise UsageError(f"{len(found)} are too many for {option}", f"give up to {most}")
    return found
