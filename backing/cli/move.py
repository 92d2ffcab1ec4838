"""`backing move`: a tune for another box or in another key."""

from pathlib import Path
from typing import Annotated

import typer

from backing.box.moving import Moved, move_to_box
from backing.cli.talk import TuneArgument, say, say_notices
from backing.errors import PracticeError
from backing.files import check_output, load_box, read_tune, save
from backing.music.key import parse_key
from backing.music.transpose import move_tune, readable_interval
from backing.music.tune import Tune
from backing.render.abc import render_abc

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
    number: Annotated[
        str, typer.Option("--tune", help="Which tune of a book: its number or part of its title.")
    ] = "",
    voice: Annotated[
        str, typer.Option(help="Which voice of the file is the melody.", show_default=False)
    ] = "",
) -> None:
    """Move a tune to another box, so that every button stays the same, or to another key.

    Examples:

      backing move tune.abc --from G/C --to D/G -o for-my-pupil.abc

      backing move tune.abc --to-key D
    """
    if bool(source) != bool(target) or bool(source) == bool(to_key):
        raise typer.BadParameter("give --from and --to, or --to-key")
    if not -2 <= octave <= 2:
        raise typer.BadParameter("--octave: give -2 to 2")
    if output is not None:
        check_output(output, tune, _SUFFIXES)
    reading = read_tune(tune, number, voice=voice)
    if to_key:
        moved = _to_key(reading.tune, to_key, octave)
        what = "transposed"
    else:
        moved = move_to_box(reading.tune, load_box(source), load_box(target), octave)
        what = f"the buttons of {source} on {target}"
    say_notices(reading._replace(notices=(*reading.notices, *moved.notices)))
    key = "" if moved.tune.key.mode == "none" else f", now in {moved.tune.key}"
    said = f"{moved.tune.title}, {what}: {_interval(moved.semitones)}{key}"
    if output is None:
        print(render_abc(moved.tune), end="")
        say(said)
        return
    save(output, _render(moved.tune, output))
    say(f"wrote {output}: {said}")


def _to_key(tune: Tune, wanted: str, octave: int) -> Moved:
    try:
        key = parse_key(wanted)
    except ValueError as error:
        raise PracticeError(f"--to-key: {error}", "give a key like D, Em or Ador") from None
    if tune.key.mode == "none" or key.mode == "none":
        raise PracticeError("the tune names no key to move from", "write one into it (K: in ABC)")
    if key.minor != tune.key.minor:
        raise PracticeError(
            f"{tune.key} cannot be moved to {key}: one is major, the other minor",
            f"give a {'minor' if tune.key.minor else 'major'} key",
        )
    semitones = (key.tonic - tune.key.tonic + 5) % 12 - 5 + 12 * octave
    interval = readable_interval(tune.key, semitones)
    return Moved(move_tune(tune, interval), semitones, ())


def _interval(semitones: int) -> str:
    """An interval in words."""
    if not semitones:
        return "at the same pitch"
    way = "up" if semitones > 0 else "down"
    size = abs(semitones)
    names = (
        "", "a semitone", "a tone", "a minor third", "a third", "a fourth", "half an octave",
        "a fifth", "a minor sixth", "a sixth", "a minor seventh", "a major seventh",
    )  # fmt: skip
    octaves = {0: "", 1: "an octave", 2: "two octaves", 3: "three octaves"}[size // 12]
    return f"{way} {' and '.join(part for part in (octaves, names[size % 12]) if part)}"


def _render(tune: Tune, output: Path) -> bytes:
    if output.suffix.lower() == ".abc":
        return render_abc(tune).encode("utf-8")
    from backing.render.musicxml import render_musicxml

    return render_musicxml(tune).encode("utf-8")
