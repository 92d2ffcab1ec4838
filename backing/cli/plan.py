"""`backing plan`: from a tune to a plan of practice, as a practice file."""

import os
from pathlib import Path
from typing import Annotated

import typer

from backing.box.fit import Fit
from backing.cli import typed
from backing.cli.asking import build
from backing.cli.options import (
    FILE,
    DanceOption,
    LanguageOption,
    ReplaceOption,
    TuneArgument,
    TuneNumber,
    VoiceOption,
)
from backing.cli.plan_text import plan_lines
from backing.cli.printing import say, show, warn
from backing.cli.wish import Wish
from backing.errors import FileError, UsageError
from backing.files import STDIN, check_output, name_for, save
from backing.language.tables import ENGLISH
from backing.music.melody_mark import melody_mark
from backing.music.saying import Fact, said_in
from backing.practice.planning import plan_practice
from backing.render.practice_toml import PracticeValue, render_practice
from backing.wording import count

_SUFFIX = ".toml"
_MINUTES, _PERCENT = "20", "100"


def plan(
    tune: TuneArgument,
    box: Annotated[
        str,
        typer.Option(
            help="Your box: a name from 'backing boxes', or a box file (.toml). What is hard goes "
            "by its buttons then, and the left hand plays only what it has.",
            show_default=False,
        ),
    ] = "",
    minutes: Annotated[
        str, typer.Option(help="How long you have, 3 to 180.", metavar="20")
    ] = _MINUTES,
    percent: Annotated[
        str,
        typer.Option(help="The tempo to come to, in per cent of the tune's own.", metavar="100"),
    ] = _PERCENT,
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="The practice file to write (.toml). Without it one here, under a name that tells "
            "what is in it; beside the tune where that lies elsewhere.",
            show_default=False,
            rich_help_panel=FILE,
        ),
    ] = None,
    replace: ReplaceOption = False,
    language: LanguageOption = ENGLISH,
    style: Annotated[
        str, typer.Option(help="The left hand's style, as in 'backing make'.", show_default=False)
    ] = "",
    profile: Annotated[
        str,
        typer.Option(
            help="With --box: how the melody is fingered, as in 'backing fit'.", show_default=False
        ),
    ] = "",
    dance: DanceOption = "",
    number: TuneNumber = "",
    voice: VoiceOption = "",
) -> None:
    """Make a plan of practice: the hard bars alone, joined, in their part, then the whole tune.

    It prints the plan, and writes it as a practice file that 'backing make' and 'backing play'
    take, and that you may change.

    Examples:

      backing plan examples/the-lock-keepers-kettle.abc --box D/G

      backing plan examples/the-lock-keepers-kettle.abc --minutes 10 -o kettle-practice.toml
    """
    if tune == STDIN:
        raise UsageError(
            "a practice file names the file of its tune", "save the tune, and give its name"
        )
    if output is not None:
        check_output(output, tune, (_SUFFIX,), replace=replace)
        _beside(tune, output)
    typed.language(language)
    wish = Wish(number=number, voice=voice, dance=dance, style=style, box=box, profile=profile)
    wanted = typed.whole_number(minutes, "--minutes", _MINUTES)
    share = typed.whole_number(percent.removesuffix("%").strip(), "--percent", _PERCENT)
    reading, backing = build(tune, wish)
    made = plan_practice(backing, wanted, share, language)
    lasting = Fact("minutes", {"count": wanted}, wanted)
    named = reading.tune.title or tune.stem
    title = said_in(Fact("plan", {"title": named, "minutes": lasting}), language)
    if output is None:
        name = name_for(reading.tune.title, (f"{wanted} minutes",), _SUFFIX)
        output = _folder(tune) / name
        check_output(output, tune, (_SUFFIX,), replace=replace)
    head: dict[str, PracticeValue] = {"tune": _beside(tune, output)}
    options = {"number": number, "voice": voice, "dance": dance, "style": style, "box": box,
               "profile": profile}  # fmt: skip
    head |= {key: value for key, value in options.items() if value}
    head["melody"] = melody_mark(reading.tune)
    about = (
        f"{_lasting(made.seconds)} in all. Change what you like: the keys are the options of\n"
        "'backing make' without their hyphens."
    )
    text = render_practice(title, head, made.steps, about)
    show(f"{reading.tune.title}: {_lasting(made.seconds)} of practice{_on(backing.fit)}")
    show("")
    for line in plan_lines(made):
        show(line)
    _say_length(made.seconds / 60, wanted)
    save(output, text.encode("utf-8"), replace=replace)
    say(f"made {output}: backing play {output} plays it")


def _say_length(minutes: float, wanted: int) -> None:
    """Say where the plan is far from the minutes that were asked for."""
    if minutes > wanted + max(0.1 * wanted, 1):
        warn(f"a plan for this tune takes {_lasting(60 * minutes)}", "leave out steps of the file")
    elif minutes < 0.85 * wanted:
        warn(
            f"there is no more to do in this tune than for {_lasting(60 * minutes)}",
            "go through the plan twice, with a rest between, or take another tune too",
        )


def _on(found: Fit | None) -> str:
    return f" on a {found.layout.name}" if found else ""


def _lasting(seconds: float) -> str:
    return count(max(round(seconds / 60), 1), "minute")


def _folder(tune: Path) -> Path:
    """Here, where the tune lies here or in a folder here; else where the tune lies."""
    return Path() if _inside(tune, Path()) else tune.parent


def _inside(tune: Path, folder: Path) -> bool:
    return Path(os.path.abspath(tune)).is_relative_to(os.path.abspath(folder))


def _beside(tune: Path, output: Path) -> str:
    """How a practice file names its tune.  Raises FileError where it lies elsewhere."""
    if not _inside(tune, output.parent):
        raise FileError(
            f"{output} cannot name its tune: {tune} lies elsewhere",
            f"write it beside the tune, or in a folder above: {tune.parent / output.name}",
        )
    return Path(os.path.relpath(tune, output.parent)).as_posix()
