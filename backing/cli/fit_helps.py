"""What helps a tune that does not sit on a box, best first: first what keeps the tune."""

from collections.abc import Iterator, Sequence
from textwrap import wrap

from backing.box.costs import Costs
from backing.box.fit import Fit
from backing.box.layout import Layout
from backing.box.remedies import changes, octaves
from backing.box.words import change_words
from backing.cli.fit_text import WIDTH
from backing.music.saying import moved_by
from backing.practice.compared import (
    MOST_BARS_COMPARED,
    MOST_COMPARED,
    Trial,
    comparable,
    fitting_boxes,
    fitting_keys,
)
from backing.wording import listed

_MOST_KEYS, _MOST_BOXES = 3, 4


def what_helps(found: Fit, trial: Trial, boxes: Sequence[Layout], costs: Costs) -> Iterator[str]:
    """What to do about a tune that does not fit."""
    yield ""
    yield "What helps, best first:"
    place = 0
    for text in _remedies(found, trial, boxes, costs):
        place += 1
        yield from wrap(text, WIDTH, initial_indent=f"  {place}. ", subsequent_indent="     ")
    if not place:
        yield "  nothing: no octave, key or box here has all its notes"


def _remedies(found: Fit, trial: Trial, boxes: Sequence[Layout], costs: Costs) -> Iterator[str]:
    for semitones in octaves(found.line, found.layout)[:1]:
        yield f"play it {moved_by(semitones)}: every note is there"
    if comparable(found.line):
        yield from _elsewhere(found, trial, boxes, costs)
    else:
        yield (
            f"look for another key or box with a part of the tune: past {MOST_COMPARED:,} notes or "
            f"{MOST_BARS_COMPARED:,} bars they are not compared"
        )
    odd = changes(found)
    if odd:
        notes = "note" if len(odd) == 1 else "notes"
        yield f"change the odd {notes}: play {listed([change_words(change) for change in odd])}"


def _elsewhere(found: Fit, trial: Trial, boxes: Sequence[Layout], costs: Costs) -> Iterator[str]:
    """Other keys and boxes that have every note."""
    layout = found.layout
    keys = fitting_keys(trial, layout, costs)
    if keys:
        names = [f"{one.key} ({moved_by(one.semitones)})" for one in keys[:_MOST_KEYS]]
        yield f"another key on this box: {', '.join(names)}"
    others = [other for other in boxes if other.name != layout.name]
    there = [one.layout.name for one in fitting_boxes(trial, others, costs)]
    if there:
        yield f"another box: {', '.join(there[:_MOST_BOXES])}"
