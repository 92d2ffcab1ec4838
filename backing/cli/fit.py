"""`backing fit`: does a tune sit on a box, on which buttons, and what helps if not."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from textwrap import wrap
from typing import Annotated

import typer

from backing.box.bellows import SLOW, bellows
from backing.box.costs import PROFILES, USUAL, Costs
from backing.box.fit import MOST_COMPARED, Fit, best_keys, changes, comparable, octaves, on_boxes
from backing.box.fit import fit as fit_line
from backing.box.layout import Layout
from backing.box.line import MelodyLine, line_of
from backing.box.under_notes import NO_BUTTON, has_buttons, with_buttons
from backing.box.words import change_words, moved_by
from backing.cli import typed
from backing.cli.fit_buttons import BUTTON_LINES, buttons
from backing.cli.fit_text import (
    WIDTH,
    bellows_text,
    boxes_table,
    costs_text,
    head,
    keys_table,
    report,
)
from backing.cli.options import (
    BeatOption,
    DanceOption,
    MetreOption,
    ReplaceOption,
    TuneArgument,
    TuneNumber,
    VoiceOption,
)
from backing.cli.printing import say, say_notices, show
from backing.cli.writing_abc import NOTATIONS, in_notation
from backing.errors import Notice, PracticeError, UsageError
from backing.files import Reading, check_output, read_tune, save
from backing.files.boxes import box_names, load_box, load_costs
from backing.harmony.source import ChordSource, with_chords_from
from backing.music.dance import Dance, find_dance
from backing.music.tempo import Tempo
from backing.music.tune import Tune
from backing.render.abc_verses import write_verses
from backing.wording import listed

_USUAL_BOX = "D/G"


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
    chorded, said = with_chords_from(reading.tune, chords, layout.all_chords)
    line = _line(chorded, tempo, dance)
    say_notices((*reading.notices, *reading.tune.notices, *said), reading.name)
    if all_boxes:
        _show(boxes_table(on_boxes(line, _boxes(), costs)))
        return
    if best_key:
        _show(keys_table(best_keys(line, layout, costs)))
        return
    speed = 100 * float(typed.share(percent)) if percent else 100.0
    found = fit_line(line, layout, costs, percent=speed)
    show(f"{head(found, speed)}\n")
    _show(report(found))
    if not found.fits:
        _show(_what_helps(found, costs))
    if output is not None:
        _write(reading, found, output, voice, replace=replace)
    elif show_buttons:
        show("")
        _show(costs_text(found.fingering, costs))
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


def _line(tune: Tune, tempo: str, dance: str) -> MelodyLine:
    named = _dance(dance)
    line = line_of(tune, dance=named)
    if not tempo:
        return line
    asked = typed.tempo(tempo)
    wanted = asked if isinstance(asked, Tempo) else asked.in_unit(line.tempo.unit)
    return line_of(tune, dance=named, tempo=wanted)


def _dance(name: str) -> Dance | None:
    found = find_dance(name) if name else None
    if name and found is None:
        raise PracticeError(f"{name!r} is not a dance that is known here", "try reel, jig, waltz")
    return found


def _boxes() -> list[Layout]:
    return [load_box(name) for name in box_names()]


def _what_helps(found: Fit, costs: Costs) -> Iterator[str]:
    """What to do about a tune that does not fit, best first."""
    yield ""
    yield "What helps, best first:"
    place = 0
    for text in _remedies(found, costs):
        place += 1
        yield from wrap(text, WIDTH, initial_indent=f"  {place}. ", subsequent_indent="     ")
    if not place:
        yield "  nothing: no octave, key or box here has all its notes"


def _remedies(found: Fit, costs: Costs) -> Iterator[str]:
    line, layout = found.line, found.layout
    for semitones in octaves(line, layout)[:1]:
        yield f"play it {moved_by(semitones)}: every note is there"
    odd = changes(found)
    if odd:
        yield f"change the odd note: play {listed([change_words(change) for change in odd])}"
    if not comparable(line):
        yield (
            f"look for another key or box with a part of the tune: past {MOST_COMPARED:,} notes "
            "they are not compared"
        )
        return
    keys = [one for one in best_keys(line, layout, costs) if one.fit.fits and one.semitones % 12]
    if keys:
        names = [f"{one.key} ({moved_by(one.semitones)})" for one in keys[:3]]
        yield f"another key on this box: {', '.join(names)}"
    yield from _other_boxes(line, layout, costs)


def _other_boxes(line: MelodyLine, layout: Layout, costs: Costs) -> Iterator[str]:
    others: Sequence[Layout] = [other for other in _boxes() if other.name != layout.name]
    boxes = [one.layout.name for one in on_boxes(line, others, costs) if one.fit.fits]
    if boxes:
        yield f"another box: {', '.join(boxes[:4])}"
