"""`backing chords`: chords for a bare tune, as ABC with chord symbols."""

from pathlib import Path
from typing import Annotated

import typer

from backing.box.layout import Layout
from backing.cli import typed
from backing.cli.grid_text import grid_lines
from backing.cli.options import (
    BeatOption,
    MetreOption,
    ReplaceOption,
    TuneArgument,
    TuneNumber,
    VoiceOption,
)
from backing.cli.printing import give, say, say_reading, show, window_width
from backing.cli.why_text import points_lines, why_lines
from backing.cli.writing_abc import abc_in_place
from backing.errors import Notice, TuneError, UsageError
from backing.files import Reading, check_output, read_tune, save
from backing.files.boxes import load_box
from backing.harmony.palette import Palette
from backing.harmony.setting import set_chords
from backing.harmony.suggest import Harmony, suggest_chords, with_chords
from backing.music.tune import Tune
from backing.render.abc_symbols import struck_at_symbols, write_symbols
from backing.wording import count, either

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
        typer.Option(
            help="Of chords that are nearly equally good those that this box has: D/G, G/C ...",
            show_default=False,
        ),
    ] = "",
    again: Annotated[
        bool, typer.Option("--again", help="Replace the chords that the tune has.")
    ] = False,
    why: Annotated[
        bool, typer.Option("--why", help="Print for each bar why it has its chords, in words.")
    ] = False,
    points: Annotated[
        bool,
        typer.Option(
            "--points", help="With --why: the best chords and what speaks for each, in points."
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
    metre: MetreOption = "",
    beat: BeatOption = "",
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
    reading = read_tune(tune, number, voice=voice, told=typed.played_as(metre, beat))
    harmony = None
    if again or not reading.tune.has_chords:
        harmony = _found(reading.tune, palette, box)
    elif not wanted and (output is not None or not grid):
        raise TuneError(
            "the tune has chords already",
            "say --again to replace them with found ones, --set to change single bars",
            source=reading.name,
        )
    if points and not why:
        raise UsageError("--points is a way to say --why", "say --why --points")
    if why and harmony is None:
        raise UsageError("--why tells how chords were found", "say --again to find them anew")
    found = with_chords(reading.tune, harmony) if harmony else reading.tune
    chorded = set_chords(found, wanted)
    text, left_out = abc_with_chords(reading, chorded, voice)
    notices = harmony.notices if harmony else ()
    say_reading(reading, *notices, *(left_out if output or not grid else ()))
    if output is not None:
        save(output, text.encode("utf-8"), replace=replace)
        say(f"wrote {output}: {reading.tune.title}, {_chords_used(chorded)}")
    elif grid and harmony:
        say(f"chords were found for it: {_chords_used(chorded)}")
    if box and harmony:
        say_missing(found, load_box(box))
    if why and harmony:
        show("\n".join((points_lines if points else why_lines)(reading.tune, harmony)))
    if grid:
        show("\n".join(grid_lines(chorded, window_width())))
    elif output is None and not why:
        give(text)


def _found(tune: Tune, palette: Palette, box: str) -> Harmony:
    return suggest_chords(tune, palette, at_hand=load_box(box).all_chords if box else ())


def say_missing(tune: Tune, layout: Layout) -> None:
    """Say which of a tune's chords a box has not."""
    at_hand = {chord.pitch_classes for chord in layout.all_chords}
    wanted = dict.fromkeys(symbol.chord for bar in tune.bars for symbol in bar.chords)
    missing = [str(chord) for chord in wanted if chord.pitch_classes not in at_hand]
    if missing:
        say(
            f"the {layout.name} has no {either(missing)} chord; backing fit tells what stands there"
        )


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
