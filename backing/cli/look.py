"""`backing look`: what a tune is, before practising it."""

from collections.abc import Iterator, Sequence
from itertools import chain
from textwrap import wrap
from typing import Annotated

import typer

from backing.arranging.arrange import Manner, own_tempo
from backing.cli import typed
from backing.cli.close_text import close_lines
from backing.cli.music_text import MusicText
from backing.cli.options import (
    BarsOption,
    BeatOption,
    DanceOption,
    EndingOption,
    MetreOption,
    PartOption,
    TuneArgument,
    TuneNumber,
    VoiceOption,
)
from backing.cli.printing import say_reading, show, window_width
from backing.cli.speech import bars_a_minute, dance_words, whose_tempo
from backing.files import read_tune
from backing.harmony.keys import keys_of
from backing.music.chord import Chord
from backing.music.dance_found import about_dance
from backing.music.pitch import Pitch
from backing.music.tune import Section, Tune
from backing.music.unfold import unfold
from backing.practice.passages import Whole, find_bars
from backing.wording import count


def look(
    tune: TuneArgument,
    number: TuneNumber = "",
    voice: VoiceOption = "",
    metre: MetreOption = "",
    beat: BeatOption = "",
    dance: DanceOption = "",
    bars: BarsOption = "",
    part: PartOption = "",
    ending: EndingOption = "",
    strict: Annotated[
        bool | None,
        typer.Option(
            "--strict/--loose",
            help="Refuse what ABC 2.1 disallows, or read it as it was meant. Without either: as "
            "the file's first line says.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Show what a tune is: key, metre, tempo, chords, range, and its music bar by bar.

    The number of a bar stands above the bar line before it: with --bars that bar is shown from
    close by.

    Examples:

      backing look examples/the-towpath-mare.abc

      backing look examples/the-towpath-mare.abc --bars 5-6
    """
    reading = read_tune(tune, number, voice=voice, strict=strict, told=typed.played_as(metre, beat))
    width = window_width()
    span = typed.span(bars, part, ending)
    if isinstance(span, Whole):
        facts = (_wrapped(line, width) for line in describe(reading.tune, dance))
        lines = [*chain.from_iterable(facts), *music(reading.tune, dance, width)]
    else:
        lines = list(closer(reading.tune, find_bars(reading.tune, span), dance, width))
    show("\n".join(lines))
    _, keys = keys_of(reading.tune)
    found = about_dance(reading.tune, dance)
    say_reading(reading, *keys, *found, most=1000)


def music(tune: Tune, dance: str, width: int) -> Iterator[str]:
    """The music part by part, and what its signs mean."""
    text = MusicText(tune, dance)
    for section in tune.sections:
        yield ""
        yield from _wrapped(_part(tune, section), width)
        yield from text.section(section, width)
    yield ""
    yield from wrap(text.key(), width)


def closer(tune: Tune, indices: Sequence[int], dance: str, width: int) -> Iterator[str]:
    """Some bars as in the whole tune, then beat by beat."""
    yield from _wrapped(_title(tune), width)
    yield from _wrapped(f"  {_kind(tune, dance)}", width)
    yield ""
    yield from MusicText(tune, dance).bars(indices, width)
    yield ""
    yield from close_lines(tune, indices, width, dance)


def describe(tune: Tune, dance: str = "") -> list[str]:
    """What `backing look` says of a tune, line by line."""
    lines = [_title(tune)]
    if tune.composers:
        lines.append(f"  by {', '.join(tune.composers)}")
    return [
        *lines,
        f"  {_kind(tune, dance)}",
        f"  {_tempo(tune, dance)}",
        f"  {_range(tune)}",
        f"  {_chords(tune)}",
        f"  {_form(tune)}",
    ]


def _title(tune: Tune) -> str:
    return f"{tune.number}. {tune.title}" if tune.number else tune.title


def _wrapped(line: str, width: int) -> list[str]:
    return wrap(line, width, subsequent_indent="    ")


def _kind(tune: Tune, dance: str) -> str:
    return f"{dance_words(tune, dance)}, {tune.metre}, {tune.key}"


def _tempo(tune: Tune, dance: str) -> str:
    manner = Manner(dance=dance)
    tempo = own_tempo(tune, manner)
    bars = bars_a_minute(tempo, tune.metre)
    return f"tempo {tempo}, {whose_tempo(tune, manner)}{', ' + bars if bars else ''}"


def _range(tune: Tune) -> str:
    pitches = [pitch for note in tune.notes() for pitch in note.pitches]
    low = min(pitches, key=_height)
    high = max(pitches, key=_height)
    return f"range {low} to {high}"


def _height(pitch: Pitch) -> int:
    return pitch.midi


def _chords(tune: Tune) -> str:
    seen: dict[Chord, None] = {}
    for bar in tune.bars:
        seen.update(dict.fromkeys(symbol.chord for symbol in bar.chords))
    return "chords " + " ".join(map(str, seen)) if seen else "no chords given"


def _form(tune: Tune) -> str:
    """The parts in the order in which they are played, and how many bars that makes."""
    order: list[str] = []
    before: tuple[str, int, int] | None = None
    full = 0
    for played in unfold(tune):
        bar = tune.bars[played.index]
        if before is None or bar.section != before[0] or played.index <= before[2]:
            order.append(bar.section)
        before = (bar.section, played.time, played.index)
        full += not bar.pickup
    pickup = ", with a pickup" if tune.bars[0].pickup else ""
    return f"form {' '.join(order)}, {count(full, 'bar')}{pickup}"


def _part(tune: Tune, section: Section) -> str:
    whole = tune.bars[section.start : section.stop]
    bars = [bar for bar in whole if not bar.pickup] or list(whole)
    lead = ", pickup" if whole[0].pickup else ""
    return f"{section.name} part, bars {bars[0].number}-{bars[-1].number}{lead}"
