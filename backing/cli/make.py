"""`backing make`: from a tune and a style to a practice file."""

from pathlib import Path
from typing import Annotated

import typer

from backing.cli.replacing import ReplaceOption
from backing.cli.talk import TuneArgument, count, lasting, listed, say, speed_words, warn
from backing.cli.wish import MUTABLE, TREMOLO_IDLE, Backing, Wish, build, takes_a_wish
from backing.errors import FileError
from backing.files import check_output, save
from backing.files.codecs import AUDIO_SUFFIXES, check_audio
from backing.practice.performance import Performance, balanced, perform, perform_seamless
from backing.practice.plan import Bars, OneSection, Plan
from backing.render.tuning import A4

_MIDI_SUFFIXES = (".mid", ".midi")
_RATE = 48000


@takes_a_wish
def make(
    tune: TuneArgument,
    output: Annotated[
        Path,
        typer.Option(
            "--output",
            "-o",
            help="The file to write: MIDI (.mid), or sound (.wav, .flac, .ogg, .opus, .mp3).",
            show_default=False,
        ),
    ],
    wish: Wish,
    seamless: Annotated[
        bool,
        typer.Option(
            "--seamless",
            help="A sound file that a phone's repeat button goes round in without a gap: no "
            "count-in, and its end dies away into its beginning.",
        ),
    ] = False,
    sound_font: Annotated[
        Path | None,
        typer.Option(
            help="Sound it with this sound font (.sf2, .sf3), through FluidSynth, instead of "
            "the built-in reeds.",
            show_default=False,
        ),
    ] = None,
    sample_rate: Annotated[int, typer.Option(help="Of a sound file: samples a second.")] = _RATE,
    single_track: Annotated[
        bool,
        typer.Option("--single-track", help="Put all into one MIDI track, for simple players."),
    ] = False,
    replace: ReplaceOption = False,
) -> None:
    """Make a practice file from a tune: melody, bass, chords and click, as MIDI or as sound.

    Examples:

      backing make reel.abc -o reel.mid

      backing make reel.abc --percent 60 --bars 5-6 --times 4 --mute melody -o loop.mid

      backing make jig.abc --section B --percent 70 --seamless -o b-part.ogg
    """
    check_output(output, tune, (*_MIDI_SUFFIXES, *AUDIO_SUFFIXES), replace=replace)
    audible = output.suffix.lower() in AUDIO_SUFFIXES
    if audible:
        _check_sound(output, sound_font, sample_rate, single_track=single_track)
    elif seamless or sound_font or sample_rate != _RATE:
        raise typer.BadParameter(
            "--seamless, --sound-font and --sample-rate are for sound files: -o name.ogg"
        )
    if seamless and wish.count_in:
        raise typer.BadParameter("--seamless has no count-in: give it without --count-in")
    backing = build(tune, wish)
    performance = _perform(backing, seamless=seamless)
    for notice in performance.notices:
        warn(notice)
    if not audible and not any(t.events for t in performance.tracks if not t.muted):
        warn("everything is muted: the file is silent", "leave out one --mute")
    if wish.tremolo and (sound_font or not audible):
        warn(TREMOLO_IDLE)
    said = _said(backing, performance, seamless=seamless, a4=wish.a4)
    if audible:
        from backing.cli.sound import Sound, save_sound

        sound = Sound(sample_rate, sound_font, seamless)
        size = save_sound(output, performance, backing.tune, wish, sound, said, replace=replace)
        said.append(size)
    else:
        from backing.render.midi import render_midi

        data = render_midi(performance, single_track=single_track, a4=wish.a4)
        save(output, data, replace=replace)
    say(f"made {output}: {', '.join([performance.title, *said])}")


def _check_sound(
    output: Path, sound_font: Path | None, sample_rate: int, *, single_track: bool
) -> None:
    """Refuse what cannot be written, before any work is done."""
    if single_track:
        raise typer.BadParameter("--single-track is for MIDI files")
    check_audio(output, sample_rate)
    if sound_font is not None:
        from backing.files.sound_font import check_sound_font

        if not sound_font.exists():
            raise FileError(f"there is no file {sound_font}", "give the path of a sound font")
        check_sound_font(sound_font, sample_rate)


def _perform(backing: Backing, *, seamless: bool) -> Performance:
    if seamless:
        performance = perform_seamless(backing.arrangement, backing.step, backing.tune)
    else:
        performance = perform(backing.arrangement, Plan((backing.step,)), backing.tune)
    return balanced(performance, backing.levels)


def _said(backing: Backing, performance: Performance, *, seamless: bool, a4: float) -> list[str]:
    """What was made, in words: which part of the tune, how fast, how often, and the rest."""
    step = backing.step
    counted = sum(1 for bar in performance.bars if bar.index < 0)
    muted = [role.value for role in MUTABLE if role in step.muted]
    metre = next(bar.metre for bar in performance.bars if bar.index >= 0)
    tempo = performance.tempos[0].tempo
    return [
        _what(backing, performance),
        "once" if step.times == 1 else f"{step.times} times",
        backing.hand,
        speed_words(backing.reading.tune, tempo, metre, backing.manner),
        f"count-in {count(counted, 'bar')}" if counted else "no count-in",
        *(["seamless"] if seamless else []),
        f"{listed(muted)} muted" if muted else "nothing muted",
        *([f"A = {a4:g} Hz"] if a4 != A4 else []),
        lasting(performance.seconds),
    ]


def _what(backing: Backing, performance: Performance) -> str:
    span = backing.step.span
    if isinstance(span, Bars):
        return f"bar {span.first}" if span.first == span.last else f"bars {span.first}-{span.last}"
    full = sum(1 for bar in performance.bars if bar.index >= 0 and not bar.begins)
    bars = count(full // backing.step.times, "bar")
    if isinstance(span, OneSection):
        return f"{span.name.upper()} part, {bars}"
    return f"the whole tune, {bars}"
