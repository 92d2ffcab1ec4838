"""`backing look`: what a tune is, before practising it."""

from typing import Annotated

import typer

from backing.arranging.arrange import Manner, own_tempo, tune_dance
from backing.cli.options import DanceOption, TuneArgument, TuneNumber, VoiceOption
from backing.cli.printing import say_notices, show
from backing.cli.speech import bars_a_minute, whose_tempo
from backing.files import read_tune
from backing.harmony.keys import keys_of
from backing.music.chord import Chord
from backing.music.pitch import Pitch
from backing.music.tune import Bar, Section, Tune
from backing.music.unfold import unfold
from backing.wording import count

_BARS_A_LINE = 4


def look(
    tune: TuneArgument,
    number: TuneNumber = "",
    voice: VoiceOption = "",
    dance: DanceOption = "",
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
    """Show what a tune is: key, metre, tempo, its parts with their bars, chords, range.

    Example:  backing look examples/the-towpath-mare.abc
    """
    reading = read_tune(tune, number, voice=voice, strict=strict)
    for line in describe(reading.tune, dance):
        show(line)
    _, keys = keys_of(reading.tune)
    say_notices((*reading.notices, *reading.tune.notices, *keys), reading.name, most=1000)


def describe(tune: Tune, dance: str = "") -> list[str]:
    """The lines that `backing look` prints."""
    number = f"{tune.number}. " if tune.number else ""
    lines = [f"{number}{tune.title}"]
    if tune.composers:
        lines.append(f"  by {', '.join(tune.composers)}")
    lines += [
        f"  {_kind(tune, dance)}",
        f"  {_tempo(tune, dance)}",
        f"  {_range(tune)}",
        f"  {_chords(tune)}",
        f"  {_form(tune)}",
    ]
    for section in tune.sections:
        lines.append("")
        lines += _picture(tune, section)
    return lines


def _kind(tune: Tune, dance: str) -> str:
    found = tune_dance(tune, Manner(dance=dance))
    name = found.name if found else (dance or tune.dance or "no dance named")
    return f"{name}, {tune.metre}, {tune.key}"


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


def _picture(tune: Tune, section: Section) -> list[str]:
    """A part as rows of bars, each with its chords; no symbol: the one before goes on."""
    whole = tune.bars[section.start : section.stop]
    bars = [bar for bar in whole if not bar.pickup] or list(whole)
    lead = tune.bars[section.start].pickup
    first, last = bars[0].number, bars[-1].number
    cells = [_cell(bar) for bar in bars]
    width = max(len(cell) for cell in cells)
    head = f"{section.name} part, bars {first}-{last}{', pickup' if lead else ''}"
    rows = []
    for start in range(0, len(bars), _BARS_A_LINE):
        row = bars[start : start + _BARS_A_LINE]
        text = "".join(
            f" {cell:<{width}} {':' if bar.plays else ''}|"
            for bar, cell in zip(row, cells[start:], strict=False)
        )
        rows.append(f"  {row[0].number:>4} |{text}")
    return [head, *rows]


def _cell(bar: Bar) -> str:
    ending = f"{bar.ending}) " if bar.ending and bar.ending.first else ""
    return ending + (" ".join(str(symbol.chord) for symbol in bar.chords) or ".")
