"""`backing make`: from a tune and a style to a practice file."""

from pathlib import Path
from typing import Annotated

import typer

from backing.cli.talk import TuneArgument, count, say, speed_words, warn
from backing.cli.wish import MUTABLE, Backing, Wish, build, takes_a_wish
from backing.files import check_output, save
from backing.music.metre import Metre
from backing.practice.performance import Performance, balanced, perform
from backing.practice.plan import Bars, OneSection, Plan, Step
from backing.render.midi import render_midi

_SUFFIXES = (".mid", ".midi")


@takes_a_wish
def make(
    tune: TuneArgument,
    output: Annotated[
        Path,
        typer.Option("--output", "-o", help="The MIDI file to write (.mid).", show_default=False),
    ],
    wish: Wish,
    single_track: Annotated[
        bool,
        typer.Option("--single-track", help="Put all into one track, for simple players."),
    ] = False,
) -> None:
    """Make a practice file from a tune: melody, bass, chords and click, as MIDI.

    Examples:

      backing make reel.abc -o reel.mid

      backing make reel.abc --percent 60 --bars 5-6 --times 4 --mute melody -o loop.mid

      backing make jig.abc --style drone --tempo 3/8=70 --section B --count-in 2 -o b.mid
    """
    check_output(output, tune, _SUFFIXES)
    backing = build(tune, wish)
    performance = balanced(
        perform(backing.arrangement, Plan((backing.step,)), backing.tune), backing.levels
    )
    data = render_midi(performance, single_track=single_track, a4=wish.a4)
    for notice in performance.notices:
        warn(notice)
    if not any(track.events for track in performance.tracks if not track.muted):
        warn("everything is muted: the file is silent", "leave out one --mute")
    save(output, data)
    say(summary(output, backing, performance))


def summary(output: Path, backing: Backing, performance: Performance) -> str:
    """The one line that says what was made."""
    step = backing.step
    counted = sum(1 for bar in performance.bars if bar.index < 0)
    muted = [role.value for role in MUTABLE if role in step.muted]
    parts = [
        performance.title,
        _what(performance, step),
        "once" if step.times == 1 else f"{step.times} times",
        backing.hand,
        speed_words(
            backing.reading.tune, performance.tempos[0].tempo, _metre(performance), backing.manner
        ),
        f"count-in {count(counted, 'bar')}" if counted else "no count-in",
        f"{' and '.join(muted)} muted" if muted else "nothing muted",
        f"{performance.seconds:.1f} seconds",
    ]
    return f"made {output}: {', '.join(parts)}"


def _what(performance: Performance, step: Step) -> str:
    if isinstance(step.span, Bars):
        first, last = step.span.first, step.span.last
        return f"bar {first}" if first == last else f"bars {first}-{last}"
    full = sum(1 for bar in performance.bars if bar.index >= 0 and not bar.begins)
    bars = count(full // step.times, "bar")
    if isinstance(step.span, OneSection):
        return f"{step.span.name.upper()} part, {bars}"
    return f"the whole tune, {bars}"


def _metre(performance: Performance) -> Metre:
    return next(bar.metre for bar in performance.bars if bar.index >= 0)
