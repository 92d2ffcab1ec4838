"""Bar lines with their endings and repeats, and where a repeat begins that no sign tells of."""

from collections.abc import Sequence
from xml.etree.ElementTree import Element, SubElement

from backing.music.tune import Bar
from backing.render.musicxml.elements import add

_STYLES = {"||": "light-light", "|]": "light-heavy", "[|": "heavy-light"}


def implied_starts(bars: Sequence[Bar]) -> set[int]:
    """The bars, beyond the first, to which a repeat goes back though no sign stands there."""
    implied: set[int] = set()
    at, opened = 0, False
    for index, bar in enumerate(bars):
        if bar.opens_repeat:
            at, opened = index, True
        if bar.plays and not opened and at:
            implied.add(at)
        following = bars[index + 1] if index + 1 < len(bars) else None
        goes_on = following is not None and following.ending is not None and (
            bar.ending is None or min(following.ending.numbers) > min(bar.ending.numbers)
            or not following.ending.first
        )  # fmt: skip
        if not goes_on and (bar.plays or bar.ending or (not opened and bar.close in _STYLES)):
            at, opened = index + 1, False
    return implied


def left_bar_line(measure: Element, bar: Bar, before: Bar | None) -> None:
    """The line at the start of a bar, where an ending or a repeat begins."""
    starts = bar.ending is not None and (bar.ending.first or before is None or not before.ending)
    if not starts and not bar.opens_repeat:
        return
    line = SubElement(measure, "barline", {"location": "left"})
    if bar.opens_repeat:
        add(line, "bar-style", "heavy-light")
    if starts:
        SubElement(line, "ending", {"number": str(bar.ending), "type": "start"})
    if bar.opens_repeat:
        SubElement(line, "repeat", {"direction": "forward"})


def right_bar_line(measure: Element, bar: Bar, following: Bar | None, plays: int) -> None:
    """The line at the end of a bar, where it is not a plain one; `plays` is how often the
    strain is played that ends here."""
    after = following.ending if following is not None else None
    stops = bar.ending is not None and (after is None or after.first)
    style = "light-heavy" if bar.plays else _STYLES.get(bar.close, "")
    if not stops and not style:
        return
    line = SubElement(measure, "barline", {"location": "right"})
    if style:
        add(line, "bar-style", style)
    if stops:
        sort = "stop" if style else "discontinue"
        SubElement(line, "ending", {"number": str(bar.ending), "type": sort})
    if bar.plays:
        repeat = SubElement(line, "repeat", {"direction": "backward"})
        if plays != 2 and bar.ending is None:
            repeat.set("times", str(plays))
