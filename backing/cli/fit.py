"""`backing fit`: does a tune sit on a box, on which buttons, and what helps if not."""

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import typer

from backing.box.bellows import SLOW, bellows
from backing.box.costs import PROFILES, USUAL
from backing.box.fit import Fit
from backing.box.fit import fit as fit_line
from backing.box.layout import Layout
from backing.box.line import line_of
from backing.box.under_notes import NO_BUTTON, has_buttons, with_buttons
from backing.cli import typed
from backing.cli.fit_buttons import BUTTON_LINES, buttons
from backing.cli.fit_helps import what_helps
from backing.cli.fit_tables import boxes_table, keys_table
from backing.cli.fit_text import bellows_text, head, points_text, report
from backing.cli.options import (
    BeatOption,
    DanceOption,
    MetreOption,
    ReplaceOption,
    TuneArgument,
    TuneNumber,
    VoiceOption,
)
from backing.cli.printing import say, say_notices, say_reading, show
from backing.cli.writing_abc import NOTATIONS, in_notation
from backing.errors import Notice, UsageError
from backing.files import Reading, check_output, read_tune, save
from backing.files.boxes import box_names, load_box, load_costs
from backing.harmony.source import ChordSource, with_chords_from
from backing.music.dance_found import about_dance
from backing.music.tempo import Tempo
from backing.music.tune import Tune
from backing.practice.compared import Trial, best_keys, on_boxes
from backing.render.abc_verses import write_verses

_USUAL_BOX = "D/G"
_EACH_ITS_CHORDS = Notice(
    "chords are found for the tune on each box and in each key anew",
    "backing chords writes some into the tune; --chords none does without",
)


def fit(
    tune: TuneArgument,
    box: Annotated[
        str,
        typer.Option(help="The box: a name from 'backing boxes', or a layout file (.toml)."),
    ] = _USUAL_BOX,
    all_boxes: Annotated[
        bool, typer.Option("--all-boxes", help="Compare all the boxes in a table.")
    ] = False,
    best_key: Annotated[
        bool, typer.Option("--best-key", help="Show in which keys it sits best on the box.")
    ] = False,
    show_buttons: Annotated[
        bool,
        typer.Option(
            "--buttons",
            help="Print the buttons under the notes, bar by bar; with -o write them into the tune.",
        ),
    ] = False,
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            "-o",
            help="With --buttons: the file to write, .abc or .musicxml: the tune with two more "
            "lines of lyrics, the buttons on the push, then those on the pull.",
            show_default=False,
        ),
    ] = None,
    replace: ReplaceOption = False,
    show_bellows: Annotated[
        bool, typer.Option("--bellows", help="Print how far the bellows are out, as a curve.")
    ] = False,
    points: Annotated[
        bool,
        typer.Option(
            "--points", help="Print what the fingering is chosen by: each cost, in points."
        ),
    ] = False,
    profile: Annotated[
        str,
        typer.Option(help=f"How to finger it: {', '.join(PROFILES)}, or a file of yours (.toml)."),
    ] = USUAL,
    tempo: Annotated[
        str,
        typer.Option(
            help="The speed you mean to play it at, in felt beats a minute: 60, or 3/8=60. "
            "It is fingered for that.",
            show_default=False,
        ),
    ] = "",
    percent: Annotated[
        str,
        typer.Option(
            help="Practise at so many per cent of it: the buttons stay, the air changes.",
            metavar="60",
            show_default=False,
        ),
    ] = "",
    chords: Annotated[
        ChordSource | None,
        typer.Option(
            help="tune: the tune's own. suggest: found for the melody. none: the left hand "
            "rests. Without it: the tune's, found where it has none.",
            show_default=False,
        ),
    ] = None,
    dance: DanceOption = "",
    number: TuneNumber = "",
    voice: VoiceOption = "",
    metre: MetreOption = "",
    beat: BeatOption = "",
) -> None:
    """Show whether a tune sits on a box, how it is fingered, and what helps if it does not.

    Examples:

      backing fit examples/the-towpath-mare.abc --box D/G

      backing fit examples/the-towpath-mare.abc --buttons --profile along-the-row

      backing fit examples/the-towpath-mare.abc --buttons -o mare-with-buttons.abc

      backing fit examples/the-towpath-mare.abc --all-boxes
    """
    if output is not None:
        if not show_buttons or all_boxes or best_key:
            raise UsageError("-o writes the buttons of one box", "say --buttons, and one --box")
        check_output(output, tune, NOTATIONS, replace=replace)
    layout = load_box(box)
    costs = load_costs(profile)
    say_notices(costs.notices)
    reading = read_tune(tune, number, voice=voice, told=typed.played_as(metre, beat))
    trial = _trial(reading.tune, chords, tempo, dance)
    chorded, said = with_chords_from(reading.tune, chords, layout.all_chords)
    taken = about_dance(reading.tune, dance)
    if trial.finds_chords and (all_boxes or best_key):
        said = (*said[:-1], _EACH_ITS_CHORDS)
    say_reading(reading, *taken, *said)
    if all_boxes:
        _show(boxes_table(on_boxes(trial, _boxes(), costs)))
        return
    if best_key:
        _show(keys_table(best_keys(trial, layout, costs)))
        return
    speed = 100 * float(typed.share(percent)) if percent else 100.0
    line = line_of(chorded, dance=trial.dance, tempo=trial.tempo)
    found = fit_line(line, layout, costs, percent=speed)
    show(f"{head(found, speed)}\n")
    _show(report(found))
    if not found.fits:
        _show(what_helps(found, trial, _boxes(), costs))
    if points:
        show("")
        _show(points_text(found.fingering, costs))
    if output is not None:
        _write(reading, found, output, voice, replace=replace)
    elif show_buttons:
        show("")
        _show(buttons(found, chorded))
    if show_bellows:
        show("")
        slower = [(slow, bellows(found.fingering, percent=slow)) for slow in SLOW]
        _show(bellows_text(found, slower))


def _write(reading: Reading, found: Fit, output: Path, voice: str, *, replace: bool) -> None:
    """Write the tune with the buttons under its notes."""
    tune, book = with_buttons(reading.tune, found.fingering), reading.text
    edited = book and write_verses(book.lines, book.first, reading.tune, tune)
    text, left_out = in_notation(reading, tune, output, voice, edited)
    say_notices((*left_out, *_replaced(reading.tune)), reading.name)
    save(output, text.encode("utf-8"), replace=replace)
    lacking = f", {NO_BUTTON} for notes that it lacks" if found.missing else ""
    say(
        f"wrote {output}: {tune.title}, the buttons of {found.layout.name} under its notes{lacking}"
    )
    say(BUTTON_LINES)


def _replaced(tune: Tune) -> Iterator[Notice]:
    if has_buttons(tune):
        yield Notice("the buttons that stood under the notes are replaced")


def _show(lines: Iterator[str]) -> None:
    for line in lines:
        show(line)


def _trial(tune: Tune, chords: ChordSource | None, tempo: str, dance: str) -> Trial:
    named = typed.dance(dance)
    if not tempo:
        return Trial(tune, chords, named)
    asked = typed.tempo(tempo)
    if not isinstance(asked, Tempo):
        asked = asked.in_unit(line_of(tune, dance=named).tempo.unit)
    return Trial(tune, chords, named, asked)


def _boxes() -> list[Layout]:
    return [load_box(name) for name in box_names()]
