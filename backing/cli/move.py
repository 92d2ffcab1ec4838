"""`backing move`: a tune for another box or in another key."""

from pathlib import Path
from typing import Annotated, NamedTuple

import typer

from backing.box.layout import Layout
from backing.box.moving import move_to_box, reading_octave
from backing.cli import typed
from backing.cli.fit_buttons import BUTTON_LINES
from backing.cli.move_buttons import with_same_buttons, without_old_buttons
from backing.cli.options import (
    BeatOption,
    MetreOption,
    ReplaceOption,
    TuneArgument,
    TuneNumber,
    VoiceOption,
)
from backing.cli.printing import give, say, say_reading
from backing.cli.writing_abc import NOTATIONS, in_notation
from backing.errors import Notice, PracticeError, UsageError
from backing.files import check_output, read_tune, save
from backing.files.boxes import load_box
from backing.music.ledger import OCTAVES
from backing.music.saying import moved_by
from backing.music.transpose import Interval, interval_to_key, move_tune
from backing.music.tune import Tune


def move(
    tune: TuneArgument,
    source: Annotated[
        str, typer.Option("--from", help="The box that it is fingered on.", show_default=False)
    ] = "",
    target: Annotated[
        str, typer.Option("--to", help="The box to play the same buttons on.", show_default=False)
    ] = "",
    to_key: Annotated[
        str,
        typer.Option(help="Transpose to this key instead: D, Em, Ador.", show_default=False),
    ] = "",
    octave: Annotated[
        int | None,
        typer.Option(
            help="Write it so many octaves higher (1) or lower (-1) than the nearest way (0: "
            "as the buttons sound). Without it: where it reads best, with the fewest ledger "
            "lines and no more notes missing on the box.",
            show_default=False,
        ),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            "-o",
            help="The file to write, .abc or .musicxml; without it ABC to the screen.",
            show_default=False,
        ),
    ] = None,
    buttons: Annotated[
        bool,
        typer.Option(
            "--buttons",
            help="Write the buttons under the notes, with --to: two lines of lyrics, push above "
            "pull, as 'backing fit --buttons' explains them.",
        ),
    ] = False,
    replace: ReplaceOption = False,
    number: TuneNumber = "",
    voice: VoiceOption = "",
    metre: MetreOption = "",
    beat: BeatOption = "",
) -> None:
    """Move a tune to another box, so that every button stays the same, or to another key.

    Examples:

      backing move examples/the-towpath-mare.abc --from D/G --to G/C -o for-my-pupil.abc

      backing move examples/the-towpath-mare.abc --to-key D
    """
    if bool(source) != bool(target) or bool(source) == bool(to_key):
        raise UsageError(
            "it is not said where the tune goes", "give --from BOX and --to BOX, or --to-key KEY"
        )
    if buttons and to_key:
        raise UsageError(
            "--buttons with --to-key: it is not said on which box",
            "give --from BOX and --to BOX; or write it with -o, then: backing fit --buttons -o",
        )
    if octave is not None and octave not in OCTAVES:
        raise UsageError(f"--octave {octave}: that is too far", "give -2 to 2")
    if output is not None:
        check_output(output, tune, NOTATIONS, replace=replace)
    reading = read_tune(tune, number, voice=voice, told=typed.played_as(metre, beat))
    if to_key:
        moved, what = _to_key(reading.tune, to_key, octave), "transposed"
    else:
        moved = _to_box(reading.tune, load_box(source), load_box(target), octave)
        what = f"the buttons of {source} on {target}"
    if buttons:
        shown, said_of_buttons = with_same_buttons(
            reading.tune, moved.tune, load_box(source), load_box(target)
        )
    else:
        shown, said_of_buttons = without_old_buttons(moved.tune)
    data, left_out = in_notation(reading, shown, output, voice)
    say_reading(reading, *moved.notices, *said_of_buttons, *left_out)
    where = _where(moved, asked=octave is not None, on_box=not to_key)
    under = ", its buttons under the notes" if buttons else ""
    said = f"{moved.tune.title}, {what}: {where}{under}"
    if output is None:
        give(data)
        say(said)
    else:
        save(output, data.encode("utf-8"), replace=replace)
        say(f"wrote {output}: {said}")
    if buttons:
        say(BUTTON_LINES)


class _WrittenMove(NamedTuple):
    """A tune that was moved, by so many semitones as it sounds, and the octaves that it is
    written higher than it sounds."""

    tune: Tune
    semitones: int
    octaves: int
    notices: tuple[Notice, ...] = ()


def _to_box(tune: Tune, source: Layout, target: Layout, octave: int | None) -> _WrittenMove:
    """The tune on the same buttons of another box, in this octave, or where it reads best."""
    moved = move_to_box(tune, source, target, octave or 0)
    if octave is None and (octave := reading_octave(moved.tune, target)):
        moved = move_to_box(tune, source, target, octave)
    return _WrittenMove(*moved[:2], octave or 0, moved.notices)


def _to_key(tune: Tune, wanted: str, octave: int | None) -> _WrittenMove:
    key = typed.key(wanted, "--to-key")
    if tune.key.mode == "none":
        raise PracticeError("the tune names no key to move from", "write one into it (K: in ABC)")
    if key.minor != tune.key.minor:
        raise PracticeError(
            f"{tune.key} cannot be moved to {key}: one is major, the other minor",
            f"give a {'minor' if tune.key.minor else 'major'} key",
        )
    interval = interval_to_key(tune.key, key)
    if octave is None:
        octave = reading_octave(move_tune(tune, interval))
    written = Interval(interval.steps + 7 * octave, interval.semitones + 12 * octave)
    return _WrittenMove(move_tune(tune, written), interval.semitones, octave)


def _where(moved: _WrittenMove, *, asked: bool, on_box: bool) -> str:
    """How far it was moved, its key, and the octave in which it is written."""
    sounding = moved_by(moved.semitones) if moved.semitones else "at the same pitch"
    now = "now in" if moved.semitones else "in"
    key = "" if moved.tune.key.mode == "none" else f", {now} {moved.tune.key}"
    octaves = "an octave" if abs(moved.octaves) == 1 else "two octaves"
    way = "higher" if moved.octaves > 0 else "lower"
    than = " than the buttons sound" if on_box else ""
    near = "as they sound" if on_box else "the nearest way"
    why = "" if asked else f", where it reads best (--octave 0: {near})"
    written = f"; written {octaves} {way}{than}{why}" if moved.octaves else ""
    return sounding + key + written
