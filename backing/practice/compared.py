"""A tune tried elsewhere: on other boxes, in other keys.

Where its chords are found for it, they are found anew for each box and each key: chords that
suit one box say nothing about another.
"""

from collections.abc import Iterable
from typing import NamedTuple

from backing.box.costs import Costs
from backing.box.fit import Fit, fit
from backing.box.layout import Layout
from backing.box.line import MelodyLine, line_of
from backing.box.remedies import lacking
from backing.errors import TuneError
from backing.harmony.source import ChordSource, with_chords_from
from backing.music.dance import Dance
from backing.music.key import Key
from backing.music.tempo import Tempo
from backing.music.transpose import interval_of, move_chord
from backing.music.tune import Tune

#: A comparison fingers the tune a dozen times and more, and finds chords for it as often:
#: notes, and bars, as they are played.
MOST_COMPARED, MOST_BARS_COMPARED = 2_000, 1_000
_STEPS = range(-6, 6)


class Trial(NamedTuple):
    """A tune to be tried, and where its chords come from; `dance` and `tempo` stand in for its
    own."""

    tune: Tune
    chords: ChordSource | None = None
    dance: Dance | None = None
    tempo: Tempo | None = None

    @property
    def finds_chords(self) -> bool:
        """True where chords are found for the tune."""
        return self.chords is ChordSource.SUGGEST or (
            self.chords is None and not self.tune.has_chords
        )

    def line(self, layout: Layout, semitones: int = 0) -> MelodyLine:
        """The melody so many semitones higher, with the chords that it has on a box there.

        Raises TuneError where there are no notes.
        """
        back = interval_of(-semitones)
        there = [move_chord(chord, back) for chord in layout.all_chords]
        chorded, _ = with_chords_from(self.tune, self.chords, there)
        return line_of(chorded, dance=self.dance, tempo=self.tempo).moved(semitones)


class OnBoxes(NamedTuple):
    """A box and the tune on it."""

    layout: Layout
    fit: Fit


class InKey(NamedTuple):
    """A key: so many semitones higher, and the tune in it."""

    key: Key
    semitones: int
    fit: Fit


def best_keys(trial: Trial, layout: Layout, costs: Costs | None = None) -> tuple[InKey, ...]:
    """The tune in each of the twelve keys, each in its best octave, the best key first.

    Keys in which fewest notes are missing come first, then those that are cheapest to play,
    chords that are not at hand counted.  Raises TuneError past 2,000 notes or 1,000 bars as
    they are played.
    """
    bare = _comparable_line(trial)
    found = [_in_key(trial, bare, layout, costs, step) for step in _STEPS]
    return tuple(sorted(found, key=_rank))


def fitting_keys(trial: Trial, layout: Layout, costs: Costs | None = None) -> tuple[InKey, ...]:
    """The other keys in which every note is there, the best first; limits as of `best_keys`."""
    bare = _comparable_line(trial)
    steps = [step for step in _STEPS if step and not min(_lacking(bare, layout, step).values())]
    return tuple(sorted((_in_key(trial, bare, layout, costs, s) for s in steps), key=_rank))


def _in_key(
    trial: Trial, bare: MelodyLine, layout: Layout, costs: Costs | None, step: int
) -> InKey:
    """The tune so many semitones higher, in the best octave there."""
    line, gone = trial.line(layout, step), _lacking(bare, layout, step)
    moved = {move: line.moved(move - step) for move in gone if gone[move] == min(gone.values())}
    tried = [InKey(there.key, move, fit(there, layout, costs)) for move, there in moved.items()]
    return min(tried, key=_rank)


def _lacking(bare: MelodyLine, layout: Layout, step: int) -> dict[int, int]:
    """How many notes are missing so many semitones higher, and an octave from there."""
    return {move: lacking(bare, layout, move) for move in (step, step - 12, step + 12)}


def _rank(one: InKey) -> tuple[int, float, int, int]:
    return *_cost(one.fit), abs(one.semitones), one.semitones


def on_boxes(
    trial: Trial, layouts: Iterable[Layout], costs: Costs | None = None
) -> tuple[OnBoxes, ...]:
    """The tune on each box, the best first: all notes there, then cheapest to play.

    Raises TuneError past 2,000 notes or 1,000 bars as they are played.
    """
    _comparable_line(trial)
    found = [OnBoxes(layout, fit(trial.line(layout), layout, costs)) for layout in layouts]
    return tuple(sorted(found, key=lambda one: _cost(one.fit)))


def fitting_boxes(
    trial: Trial, layouts: Iterable[Layout], costs: Costs | None = None
) -> tuple[OnBoxes, ...]:
    """Those of the boxes that have every note, the best first; limits as of `on_boxes`."""
    bare = _comparable_line(trial)
    return on_boxes(trial, [one for one in layouts if not lacking(bare, one)], costs)


def _cost(found: Fit) -> tuple[int, float]:
    """How often a note is missing, and what the fingering costs."""
    return sum(note.times for note in found.missing), round(found.fingering.cost, 6)


def comparable(line: MelodyLine) -> bool:
    """True where the tune is short enough to be tried in every key, and on every box."""
    return len(line.moments) <= MOST_COMPARED and len(line.bars) <= MOST_BARS_COMPARED


def _comparable_line(trial: Trial) -> MelodyLine:
    """The melody without chords, where it is short enough."""
    bare, _ = with_chords_from(trial.tune, ChordSource.NONE)
    line = line_of(bare)
    if not comparable(line):
        raise TuneError(
            f"as it is played the tune has more than {MOST_COMPARED:,} notes or "
            f"{MOST_BARS_COMPARED:,} bars, too many to compare keys or boxes",
            "compare them with a part of the tune",
        )
    return line
