"""`backing move`: a tune for another box or in another key."""

from pathlib import Path
from typing import Annotated

import typer

from backing.box.moving import Moved, move_to_box
from backing.box.words import moved_by
from backing.cli import typed
from backing.cli.options import ReplaceOption, TuneArgument, TuneNumber, VoiceOption
from backing.cli.printing import give, say, say_notices
from backing.cli.writing_abc import abc_again
from backing.errors import Notice, PracticeError, UsageError
from backing.files import Reading, check_output, read_tune, save
from backing.files.boxes import load_box
from backing.music.transpose import Interval, interval_to_key, move_tune
from backing.music.tune import Tune
from backing.render.musicxml import render_musicxml

_SUFFIXES = (".abc", ".musicxml", ".xml")


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
    octave: Annotated[int, typer.Option(help="Write it an octave higher (1) or lower (-1).")] = 0,
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            "-o",
            help="The file to write, .abc or .musicxml; without it ABC to the screen.",
            show_default=False,
        ),
    ] = None,
    replace: ReplaceOption = False,
    number: TuneNumber = "",
    voice: VoiceOption = "",
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
    if not -2 <= octave <= 2:
        raise UsageError(f"--octave {octave}: that is too far", "give -2 to 2")
    if output is not None:
        check_output(output, tune, _SUFFIXES, replace=replace)
    reading = read_tune(tune, number, voice=voice)
    if to_key:
        moved, what = _to_key(reading.tune, to_key, octave), "transposed"
    else:
        moved = move_to_box(reading.tune, load_box(source), load_box(target), octave)
        what = f"the buttons of {source} on {target}"
    notices = (*reading.notices, *reading.tune.notices, *moved.notices)
    data, left_out = _written(reading, moved.tune, output, voice)
    say_notices((*notices, *left_out), reading.name)
    said = f"{moved.tune.title}, {what}: {_where(moved, octave)}"
    if output is None:
        give(data)
        say(said)
        return
    save(output, data.encode("utf-8"), replace=replace)
    say(f"wrote {output}: {said}")


def _to_key(tune: Tune, wanted: str, octave: int) -> Moved:
    key = typed.key(wanted, "--to-key")
    if tune.key.mode == "none":
        raise PracticeError("the tune names no key to move from", "write one into it (K: in ABC)")
    if key.minor != tune.key.minor:
        raise PracticeError(
            f"{tune.key} cannot be moved to {key}: one is major, the other minor",
            f"give a {'minor' if tune.key.minor else 'major'} key",
        )
    interval = interval_to_key(tune.key, key)
    written = Interval(interval.steps + 7 * octave, interval.semitones + 12 * octave)
    return Moved(move_tune(tune, written), interval.semitones, ())


def _where(moved: Moved, octave: int) -> str:
    """How far it was moved, in which octave it is written, and its key."""
    sounding = moved_by(moved.semitones) if moved.semitones else "at the same pitch"
    octaves = "an octave" if abs(octave) == 1 else "two octaves"
    written = f", written {octaves} {'up' if octave > 0 else 'down'}" if octave else ""
    key = "" if moved.tune.key.mode == "none" else f", now in {moved.tune.key}"
    return sounding + written + key


def _written(
    reading: Reading, tune: Tune, output: Path | None, voice: str
) -> tuple[str, tuple[Notice, ...]]:
    """The tune as ABC or MusicXML, and what is left out there."""
    if output is None or output.suffix.lower() == ".abc":
        return abc_again(reading, tune, voice)
    return render_musicxml(tune), ()
