"""Nothing written touches what is drawn, on paper and in the widths of a page."""

from collections import Counter
from collections.abc import Callable
from types import ModuleType

import pytest

from backing.language.tables import LANGUAGES
from backing.parse.abc import parse_abc
from backing.render.page.drawings import WIDTHS
from backing.render.sheet.engraver import engrave
from backing.render.sheet.lines import TENTHS
from backing.render.sheet.look import SheetLook, SheetPage
from backing.render.sheet.mei import StaffMarks
from backing.render.sheet.staff import lines_of

TEXT = (
    '<text x="{}" y="{}" font-size="0px"><tspan font-size="486px">{}</tspan></text>'
    '<path d="M{} 0 L{} 900" stroke-width="18"/>'
)


@pytest.fixture(scope="session")
def ink(bench: Callable[[str], ModuleType]) -> ModuleType:
    """Where ink is on a line of music."""
    return bench("ink")


def touching(ink: ModuleType, page: SheetPage, look: SheetLook, width: float) -> Counter:
    """The kinds of what touches on the lines of a page, so many times."""
    return Counter(
        one.kinds
        for system in lines_of(page, look, [width])[0]
        for one in ink.collisions(system.svg)
    )


def test_what_touches_is_found(ink: ModuleType):
    """A text through which a line goes touches it, one that is half a space away does not."""
    for place, count in ((400, 1), (1500, 0)):
        svg = f'<svg><g class="syl">{TEXT.format(100, 500, "push", place, place)}</g></svg>'
        assert len(ink.collisions(svg)) == count


def test_letters_are_as_wide_as_in_the_tables(ink: ModuleType):
    """The ink of a text begins and ends within the width that the engraver reckons with."""
    svg = f'<svg><g class="syl">{TEXT.format(100, 500, "push", 0, 0)}</g></svg>'
    letters = [one for one in ink.inks(svg) if one.text]
    assert len(letters) == 4
    assert letters[0].left >= 100
    assert letters[-1].right <= 100 + 486 * 1.89  # ems of "push" in Times


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_names_of_rows_are_whole(ink, page, language):
    """Where no signature keeps the first note from the clef, nothing lies left of the drawing."""
    tune = parse_abc("X:1\nM:2/4\nL:1/8\nK:C\n" + "c2e2|g2e2|d2f2|B2G2|" * 4)
    for width in WIDTHS.values():
        for system in lines_of(page(tune, "G/C"), SheetLook(language=language), [width])[0]:
            words = [one for one in ink.inks(system.svg) if one.text]
            assert min(one.left for one in words) >= -TENTHS * system.left


@pytest.mark.slow
@pytest.mark.parametrize("width", WIDTHS.values(), ids=WIDTHS)
def test_nothing_touches_in_the_examples(ink, tunes, page, width):
    """In no example a number, chord, button or name of a row touches anything on a page; of the
    tunes that are hard to set only one does, with eight long chords in a bar."""
    for title, tune in tunes.items():
        if title != "Many Chords in a Bar":
            assert not touching(ink, page(tune), SheetLook(), width), title


@pytest.mark.slow
def test_marks_touch_nothing_on_paper(ink, tunes, page):
    """Fingers, the air button and boxed numbers touch nothing but that a finger may stand close
    beside the stem of its note."""
    look = SheetLook(air=True, fingers=True, hard=True)
    for title, tune in tunes.items():
        found = touching(ink, page(tune), look, look.width)
        assert set(found) <= {("fing", "stem"), ("harm", "harm")}, title


@pytest.mark.parametrize("sign", ["", "u", "T", "~", ".", "(", "{/a}"])
def test_a_number_keeps_clear_of_the_first_note(ink, sign):
    """A bar's number touches neither a high first note nor a sign above it, where a line begins
    and within one."""
    close = ")" if sign == "(" else ""
    bar = f"{sign}b2a2{close} g2a2|"
    tune = parse_abc(f"X:1\nT:High\nM:4/4\nL:1/8\nK:D\n{bar * 24}\n")
    for system in engrave(tune, StaffMarks(), 920):
        found = [one for one in ink.collisions(system.svg) if "dir" in one.kinds]
        assert not found
