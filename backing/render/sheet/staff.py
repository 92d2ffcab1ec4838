"""A page of staff notation: the music with its buttons, cut into lines, and how they are spread."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import groupby
from typing import Any, NamedTuple

from backing.box.fit import Fit
from backing.box.hard_bars import hard_bars
from backing.box.hardness import hardness_on
from backing.box.left_signs import left_signs
from backing.box.under_notes import (
    fingered_bars,
    verse_count,
    with_buttons,
    without_buttons,
)
from backing.language.tables import text_in
from backing.music.tune import Note, Tune, Voice
from backing.render.sheet.engraver import engrave, engrave_start, measured
from backing.render.sheet.lines import STAFF, System
from backing.render.sheet.look import SheetLook, SheetPage
from backing.render.sheet.mei import StaffMarks
from backing.render.sheet.music_text import with_text_fonts

#: How much smaller the music may get so that a tune keeps to its page.
_SCALES = (1.0, 0.93, 0.86, 0.8)
#: Room between lines of music in millimetres: at least, and at most.
_CLOSEST, _WIDEST = 1.0, 6.0
#: No more lines than these are kept together on a page as one part.
_MOST_TOGETHER = 6
#: No more places for the air button than these are marked in a part.
_MOST_AIR = 2
#: How many bars show how a tune begins, and how wide they may be in millimetres.
_FIRST_BARS, _WIDEST_START = 2, 62.0


class Music(NamedTuple):
    """The lines of a page, part by part, as the page's data has them, and the drawings."""

    parts: list[dict[str, Any]]
    gap: float
    drawings: Mapping[str, str]


def music_of(page: SheetPage, look: SheetLook, name: str, room: float) -> Music:
    """The music of a page; `room` is the height that it would have on one, in millimetres, and
    `name` what the names of its drawings begin with."""
    tune, marks = _with_marks(page, look)
    natural = measured(tune)
    largest: tuple[System, ...] = ()
    for scale in _SCALES:
        size = look.staff * scale / STAFF
        systems = engrave(tune, marks, round(look.width / size), natural)
        largest = largest or systems
        height = sum(system.height for system in systems) * size
        if height + _CLOSEST * len(systems) <= room:
            break
    else:
        systems, height = largest, room
    gap = min(max((room - height) / len(systems), _CLOSEST), _WIDEST)
    drawings = {f"{name}-{n}.svg": with_text_fonts(s.svg) for n, s in enumerate(systems)}
    return Music(list(_parts(systems, list(drawings), look)), gap, drawings)


def lines_of(page: SheetPage, look: SheetLook, widths: Sequence[float]) -> list[tuple[System, ...]]:
    """The lines of a page's music in their usual size, for each of these widths in millimetres;
    the texts in them need no font of music signs."""
    tune, marks = _with_marks(page, look)
    natural = measured(tune)
    return [
        tuple(
            system._replace(svg=with_text_fonts(system.svg))
            for system in engrave(tune, marks, round(width * STAFF / look.staff), natural)
        )
        for width in widths
    ]


class FirstBars(NamedTuple):
    """A drawing of a tune's beginning, and how wide it is in millimetres."""

    svg: str
    width: float


def first_bars(tune: Tune, look: SheetLook) -> FirstBars:
    """The first two bars of a tune, and its pickup, small, without chords or words."""
    size = 0.6 * look.staff / STAFF
    system = engrave_start(_beginning(tune))
    return FirstBars(with_text_fonts(system.svg), min(system.width * size, _WIDEST_START))


def _beginning(tune: Tune) -> Tune:
    full = [index for index, bar in enumerate(tune.bars) if not bar.pickup]
    stop = full[min(_FIRST_BARS, len(full)) - 1] + 1 if full else 1
    bars = tuple(replace(bar, chords=(), tempos=(), label="", jumps=()) for bar in tune.bars[:stop])
    melody = tuple(
        tuple(note._replace(lyrics=(), texts=(), decorations=(), ties=() if last else note.ties)
              for note, last in _with_last(notes, index == stop - 1))
        for index, notes in enumerate(tune.melody.bars[:stop])
    )  # fmt: skip
    return replace(tune, bars=bars, voices=(Voice("", melody),), tempo=None, swing=None)


def _with_last(notes: Sequence[Note], ends: bool) -> Iterator[tuple[Note, bool]]:
    for at, note in enumerate(notes):
        yield note, ends and at == len(notes) - 1


def _parts(
    systems: tuple[System, ...], names: list[str], look: SheetLook
) -> Iterator[dict[str, Any]]:
    number = 0

    def part_of(pair: tuple[System, str]) -> int:
        nonlocal number
        number += pair[0].part
        return number

    for _, group in groupby(zip(systems, names, strict=True), key=part_of):
        lines = [{"file": name, "width": look.width} for _, name in group]
        yield {"systems": lines, "whole": len(lines) <= _MOST_TOGETHER}


# -- what stands at the notes ----------------------------------------------------------------


def _with_marks(page: SheetPage, look: SheetLook) -> tuple[Tune, StaffMarks]:
    tune = _without_tempo(_with_letters(page.tune))
    if page.fit is None:
        return tune, StaffMarks()
    fingering = page.fit.fingering
    hard = frozenset(hard_bars(hardness_on(fingering)) if look.hard else ())
    words = _air(tune, page.fit, look.language) if look.air else {}
    if look.fingers:
        tune = _with_fingers(tune, page.fit)
    if not look.buttons:
        return tune, StaffMarks(words=words, boxed=hard)
    signs = {
        index: [(sign.onset, sign.text) for sign in bar]
        for index, bar in enumerate(left_signs(tune, fingering))
    }
    rows, sung = look.ways, verse_count(without_buttons(tune))
    return with_buttons(tune, fingering), StaffMarks(signs, words, rows, sung, hard)


def _without_tempo(tune: Tune) -> Tune:
    """The tune without the tempo that it begins with: it stands under the title."""
    first, *others = tune.bars
    later = tuple(mark for mark in first.tempos if mark.onset)
    return replace(tune, tempo=None, swing=None, bars=(replace(first, tempos=later), *others))


def _with_letters(tune: Tune) -> Tune:
    """The tune with a letter at the start of each part, where it has several."""
    sections = tune.sections
    if len(sections) < 2:
        return tune
    starts = {section.start: section.name for section in sections}
    bars = tuple(
        replace(bar, label=bar.label or starts[index]) if index in starts else bar
        for index, bar in enumerate(tune.bars)
    )
    return replace(tune, bars=bars)


def _with_fingers(tune: Tune, found: Fit) -> Tune:
    """The tune with the number of the finger where a part begins, and where the hand moves."""
    parts = {section.start for section in tune.sections}
    hand = 0
    bars: list[tuple[Note, ...]] = []
    for index, (notes, row) in enumerate(
        zip(tune.melody.bars, fingered_bars(tune, found.fingering), strict=True)
    ):
        hand = 0 if index in parts else hand
        bar: list[Note] = []
        for note, played in zip(notes, row, strict=True):
            moved = played is not None and played.finger and played.hand != hand
            hand = played.hand if played is not None and played.finger else hand
            bar.append(_fingered(note, played.finger) if played and moved else note)
        bars.append(tuple(bar))
    return replace(tune, voices=(Voice(tune.melody.name, tuple(bars)), *tune.voices[1:]))


def _fingered(note: Note, finger: int) -> Note:
    others = tuple(name for name in note.decorations if not name.isdecimal())
    return note._replace(decorations=(*others, str(finger)))


def _air(tune: Tune, found: Fit, language: str) -> dict[int, list[tuple[Fraction, str]]]:
    """Where the air button goes, the roomiest places of each part that needs it."""
    drifting = {drift.part for drift in found.bellows.drifts if drift.share}
    if found.bellows.steady:
        return {}
    marked: dict[int, list[tuple[Fraction, str]]] = {}
    used: dict[str, int] = {}
    for spot in found.bellows.spots:
        notes = tune.melody.bars[spot.written]
        at = notes[spot.note].onset + (notes[spot.note].length if spot.why == "rest" else 0)
        section = tune.bars[spot.written].section
        places = marked.setdefault(spot.written, [])
        if spot.part in drifting and used.get(section, 0) < _MOST_AIR and not places:
            used[section] = used.get(section, 0) + 1
            places.append((at, f"\u00a0{text_in(language, 'air')}"))
    return marked
