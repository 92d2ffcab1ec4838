"""What goes into a page: a tune for each box and style, or a practice as it is."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from backing.box.costs import USUAL
from backing.box.handout import handout
from backing.cli.asking import asked_for
from backing.cli.wish import Wish
from backing.errors import Notice, UsageError
from backing.files.boxes import load_box, load_costs
from backing.harmony.source import ChordSource, with_chords_from
from backing.music.tune import Tune
from backing.practice.asked import Asked
from backing.practice.backing import Backing, make_backing
from backing.practice.plan import Plan
from backing.practice.practice import Practice
from backing.render.page.music import PageChoice
from backing.render.page.page import PageSheet
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
    first = asked[boxes[0], names[0]]
    only = first.box.all_chords if first.box else ()
    chorded, _ = with_chords_from(tune, wish.chords, only)
    chords = ChordSource.NONE if wish.chords is ChordSource.NONE else None
    tunes = _for_boxes(chorded, boxes, wish.profile)
    backings = {
        (box, style): make_backing(
            tunes[box][0] if box != boxes[0] else tune,
            each._replace(chords=chords if box != boxes[0] else wish.chords),
        )
        for (box, style), each in asked.items()
    }
    notices = dict.fromkeys(notice for each in backings.values() for notice in each.notices)
    choices = tuple(
        PageChoice(box, _styles_of(backing), (backing,)) for (box, _), backing in backings.items()
    )
    sheets = tuple(
        PageSheet(box, (_sheet(backings[box, names[0]], tunes[box][1]),)) for box in boxes
    )
    shown = dict.fromkeys(choice.style for choice in choices)
    return PageMade(
        tune.title, choices, sheets, choices[0].backings[0].plan, wish,
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


def _for_boxes(
    tune: Tune, boxes: Sequence[str], profile: str
) -> dict[str, tuple[Tune, tuple[str, ...]]]:
    """The tune as it is for each box, and what there is to say of it."""
    if not boxes[0]:
        return {"": (tune, ())}
    pages = handout(tune, [load_box(box) for box in boxes], load_costs(profile or USUAL))
    return {box: (found.tune, found.said) for box, found in zip(boxes, pages, strict=True)}


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
