"""`backing chords`: chords for a bare tune, as ABC with chord symbols."""

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import typer

from backing.cli import typed
from backing.cli.grid_text import grid_lines
from backing.cli.options import ReplaceOption, TuneArgument, TuneNumber, VoiceOption
from backing.cli.printing import give, say, say_notices, show, window_width
from backing.cli.writing_abc import abc_in_place
from backing.errors import Notice, TuneError, UsageError
from backing.files import Reading, check_output, read_tune, save
from backing.files.boxes import load_box
from backing.harmony.palette import Palette
from backing.harmony.setting import set_chords
from backing.harmony.suggest import Harmony, suggest_chords, with_chords
from backing.harmony.why import Explained, Reasoned, explain
from backing.music.pitch import name_of
from backing.music.tune import Tune
from backing.render.abc_symbols import struck_at_symbols, write_symbols
from backing.wording import count

_SUFFIXES = (".abc",)


def chords(
    tune: TuneArgument,
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            "-o",
            help="The ABC file to write; without it to the screen.",
            show_default=False,
        ),
    ] = None,
    replace: ReplaceOption = False,
    palette: Annotated[
        Palette,
        typer.Option(
            help="plain: three or four chords. full: all of the key, and those that the notes "
            "ask for."
        ),
    ] = Palette.FULL,
    box: Annotated[
        str,
        typer.Option(help="Only chords that this box has: D/G, G/C ...", show_default=False),
    ] = "",
    again: Annotated[
        bool, typer.Option("--again", help="Replace the chords that the tune has.")
    ] = False,
    why: Annotated[
        bool,
        typer.Option(
            "--why", help="Print for each bar its notes, the best chords and what decided."
        ),
    ] = False,
    changes: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            help='Other chords in one bar, spread over its beats: "12: G D"; "12: G . D" with a '
            'dot where the chord before goes on; "12: N.C." for silence; "12: -" for none of its '
            "own, so that the chord before goes on. The bar as printed, so each time it is played. "
            "Several times for several bars.",
            metavar="BAR: CHORDS",
            show_default=False,
        ),
    ] = None,
    grid: Annotated[
        bool,
        typer.Option("--grid", help="Print the chords as a grid, a box a bar, four bars a row."),
    ] = False,
    number: TuneNumber = "",
    voice: VoiceOption = "",
) -> None:
    """Find chords for a tune, or change them, and write it with its chord symbols, as ABC.

    Examples:

      backing chords examples/the-eel-trap.abc -o with-chords.abc

      backing chords examples/the-eel-trap.abc --palette plain --why

      backing chords examples/the-eel-trap.abc --set "6: D Am" -o mine.abc

      backing chords examples/the-eel-trap.abc --grid
    """
    wanted = [typed.bar_chords(text) for text in changes or ()]
    if output is not None:
        check_output(output, tune, _SUFFIXES, replace=replace)
    reading = read_tune(tune, number, voice=voice)
    harmony = None
    if again or not reading.tune.has_chords:
        harmony = _found(reading.tune, palette, box)
    elif not wanted and (output is not None or not grid):
        raise TuneError(
            "the tune has chords already",
            "say --again to replace them with found ones, --set to change single bars",
            source=reading.name,
        )
    if why and harmony is None:
        raise UsageError("--why tells how chords were found", "say --again to find them anew")
    found = with_chords(reading.tune, harmony) if harmony else reading.tune
    chorded = set_chords(found, wanted)
    text, left_out = abc_with_chords(reading, chorded, voice)
    notices = (*reading.notices, *reading.tune.notices, *(harmony.notices if harmony else ()))
    say_notices((*notices, *(left_out if output or not grid else ())), reading.name)
    if output is not None:
        save(output, text.encode("utf-8"), replace=replace)
        say(f"wrote {output}: {reading.tune.title}, {_chords_used(chorded)}")
    elif grid and harmony:
        say(f"chords were found for it: {_chords_used(chorded)}")
    if why and harmony:
        show("\n".join(reasons(reading.tune, harmony)))
    if grid:
        show("\n".join(grid_lines(chorded, window_width())))
    elif output is None and not why:
        give(text)


def _found(tune: Tune, palette: Palette, box: str) -> Harmony:
    return suggest_chords(tune, palette, at_hand=load_box(box).all_chords if box else ())


def abc_with_chords(reading: Reading, tune: Tune, voice: str) -> tuple[str, tuple[Notice, ...]]:
    """The text that was read with the chords of `tune` in it; the tune written anew where
    it was no ABC, or where the symbols can't be put into the text as it stands.  What is left
    out then is said."""
    book = reading.text
    edited = book and write_symbols(book.lines, book.first, reading.tune, tune)
    return abc_in_place(reading, tune if edited else struck_at_symbols(tune), edited, voice)


def _chords_used(tune: Tune) -> str:
    used = dict.fromkeys(str(symbol.chord) for bar in tune.bars for symbol in bar.chords)
    return f"{count(len(used), 'chord')}: {' '.join(used)}"


# -- why --------------------------------------------------------------------------


def reasons(tune: Tune, harmony: Harmony) -> Iterator[str]:
    """The lines that `--why` prints."""
    yield (
        "For each bar its notes, then the best chords for each half (or the whole) with their "
        "points:"
    )
    yield (
        "what its notes say, those on the beats, passing ones, the notes before and after; its "
        "place"
    )
    yield "in the part; the chord before and the chord after.  The last word is what decided."
    section, bar = "", -1
    for explained in explain(harmony):
        slot = explained.slot
        if slot.section != section:
            section = slot.section
            yield ""
            yield f"{section} part, {slot.key}"
        if slot.bar != bar:
            bar = slot.bar
            yield f"bar {tune.bars[bar].number}: {_notes(tune, bar)}"
        yield from _slot_lines(explained)


def _notes(tune: Tune, bar: int) -> str:
    names = [
        "+".join(name_of(pitch.step, pitch.alter) for pitch in note.pitches) or "-"
        for note in tune.melody.bars[bar]
    ]
    return " ".join(names)


def _slot_lines(explained: Explained) -> Iterator[str]:
    for place, option in enumerate(explained.best):
        lead = "  " if place else ("> " if explained.slot.bar_start else ". ")
        tail = f"   {explained.decided}" if not place and explained.decided else ""
        yield f"  {lead}{option.chord!s:<5}{option.reasons.points:5.1f}  ({_sum(option)}){tail}"


def _sum(option: Reasoned) -> str:
    reasons_ = option.reasons
    names = ("notes", "beats", "passing", "around", "place", "before", "after")
    return ", ".join(
        f"{name} {points:+.1f}"
        for name, points in zip(names, reasons_, strict=True)
        if round(points, 1)
    )
