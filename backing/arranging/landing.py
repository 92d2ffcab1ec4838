"""Each harmony is heard where it enters: what a style leaves out of it is put there.

A style's strokes fall where its figure says, and harmony enters where the tune says.  Where
no bass of the style falls there, one is put there, as its other basses are; a chord with it
where the style plays chords in that bar and none of them falls into that harmony.  The last
harmony of a part has both, and its last bass is held as long as the melody's last note,
unless the figure is one for endings.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache

from backing.arranging.figures import Chosen, HandPress, length_of, within
from backing.arranging.places import Place
from backing.arranging.spans import HarmonySpan
from backing.arranging.style import Figure, Hand, Hold, Stroke, Until
from backing.music.played import MappedBar, PlayedTune, later
from backing.music.swing import swing_unit

_START = Fraction(0)
_BAR_LINE = Hold(Until.BAR_LINE)
_ENDINGS = frozenset({Place.PHRASE_END, Place.SECTION_END, Place.TUNE_END, Place.CADENCE})
#: A press and the number of the one that it stands before.
_Put = tuple[int, HandPress]


def landed(
    found: Sequence[HandPress], played: PlayedTune, figures: Chosen, spans: Sequence[HarmonySpan]
) -> list[HandPress]:
    """The presses of a style with those that let each harmony be heard where it enters.

    None is put under a pickup, into a bar that the style has nothing for, or where it keeps
    to the key note.
    """
    landing = _Landing(found, played, figures)
    joined: list[HandPress] = []
    before = 0
    for number, press in landing.puts(spans):
        joined += landing.found[before:number]
        joined.append(press)
        before = number
    return joined + landing.found[before:]


class _Landing:
    """What a style strikes in each harmony: by the identity of its span the numbers of its
    first bass, its last bass, its last chord, its first press."""

    def __init__(self, found: Sequence[HandPress], played: PlayedTune, figures: Chosen) -> None:
        self.found = list(found)
        self._played, self._figures = played, figures
        self._of_bar: dict[int, Figure] = {}
        self._bass: dict[int, int] = {}
        self._last: dict[int, int] = {}
        self._chord: dict[int, int] = {}
        self._first: dict[int, int] = {}
        current: HarmonySpan | None = None
        span = 0
        for number, press in enumerate(found):
            if press.span is not current:
                current = press.span
                span = id(current)
                self._first.setdefault(span, number)
            if press.stroke.play is Hand.CHORD:
                self._chord[span] = number
            else:
                self._last[span] = number
                if span not in self._bass:
                    self._bass[span] = number

    def puts(self, spans: Sequence[HarmonySpan]) -> list[_Put]:
        """All that is put, in order; the last basses of parts are held on."""
        found: list[_Put] = []
        number = len(self.found)
        following: HarmonySpan | None = None
        for span in reversed(spans):
            number = self._first.get(id(span), number)
            closes = following is None or (
                following.bar is not span.bar and following.bar.part != span.bar.part
            )
            following = span
            bass = self._bass.get(id(span))
            there = bass is not None and _at(self.found[bass].onset, span.start)
            if (closes or not there) and not span.bar.begins:
                found += reversed(list(self._into(span, number, closes=closes)))
        return found[::-1]

    def _into(self, span: HarmonySpan, number: int, *, closes: bool) -> Iterator[_Put]:
        """What is put into a harmony, of which this is the number of the first press."""
        first = self._bass.get(id(span))
        enters = first is None or not _at(self.found[first].onset, span.start)
        stroke = _usual_bass(self._figure(span.bar), span.start == span.bar.onset)
        if stroke is None:
            return
        if closes and first is not None:
            self._hold_on(self._last[id(span)])
        if enters:
            bass = self._entering(stroke, span, number, alone=closes and first is None)
            yield number, bass
        if id(span) in self._chord or span.stop - span.start < _beat(span.bar):
            return
        if closes and first is not None:
            number = self._last[id(span)]
            bass = self.found[number]
        chord = self._chord_of(bass.bar, number, closes=closes)
        if chord:
            around = self._around(bass.bar, number)
            length = bass.length if closes else _held(chord, bass.onset, span, around)
            yield number, HandPress(bass.onset, length, chord, span, bass.bar)

    def _figure(self, bar: MappedBar) -> Figure:
        if not self._of_bar:
            bars = self._played.bars
            self._of_bar |= {id(b): f for b, f in zip(bars, self._figures.of_bars(), strict=True)}
        return self._of_bar[id(bar)]

    def _hold_on(self, number: int) -> None:
        """Hold the last bass of a part as long as the melody's last note, unless the style says
        how a part ends."""
        press = self.found[number]
        if self._figure(press.bar).only.isdisjoint(_ENDINGS):
            stop = min(press.span.stop, _last_stop(self._played, press.bar))
            if stop > press.onset + press.length:
                self.found[number] = press._replace(length=stop - press.onset)

    def _entering(
        self, stroke: Stroke, span: HarmonySpan, number: int, *, alone: bool
    ) -> HandPress:
        """The bass with which a harmony enters; `alone` in the last of a part: as long as its
        note."""
        around = self._around(span.bar, number)
        onset = _entry(self._played, span, around)
        length = _held(stroke, onset, span, around)
        if not alone:
            return HandPress(onset, length, stroke, span, span.bar)
        stop = min(span.stop, _last_stop(self._played, span.bar))
        held = stroke._replace(hold=_BAR_LINE)
        return HandPress(onset, max(stop - onset, length), held, span, span.bar)

    def _around(self, bar: MappedBar, number: int) -> Sequence[HandPress]:
        """The presses in a bar of the tune, of which one has this number or would have it."""
        found, first = self.found, number
        while first and found[first - 1].bar is bar:
            first -= 1
        while number < len(found) and found[number].bar is bar:
            number += 1
        return found[first:number]

    def _chord_of(self, bar: MappedBar, number: int, *, closes: bool) -> Stroke | None:
        """The chord that the style plays in a bar; in the last of a part one that it has."""
        figure = self._figure(bar)
        strokes = [press.stroke for press in self._around(bar, number)]
        chords = [stroke for stroke in strokes if stroke.play is Hand.CHORD]
        if not chords and closes and figure.only.isdisjoint(_ENDINGS):
            chords = [stroke for stroke in figure.strokes if stroke.play is Hand.CHORD]
        return max(chords, key=lambda stroke: stroke.strength, default=None)


def _at(onset: Fraction, start: Fraction) -> bool:
    """True where both are one position: mostly they are one object, which is soon seen."""
    return onset is start or onset == start


@lru_cache(maxsize=256)
def _usual_bass(figure: Figure, first: bool) -> Stroke | None:
    """A bass as the figure has them, on its root: at the bar's start that of the first beat,
    elsewhere another one, if there are others."""
    basses = [s for s in figure.strokes if s.play is Hand.BASS and not s.on_tonic]
    plain = [s for s in basses if all(isinstance(degree, int) for degree in s.degrees)] or basses
    fitting = [s for s in plain if (s.beats[:1] == (1,)) is first] or plain
    return fitting[0]._replace(degrees=(1,)) if fitting else None


def _held(
    stroke: Stroke, onset: Fraction, span: HarmonySpan, around: Sequence[HandPress]
) -> Fraction:
    """How long the style holds a stroke up to its next one; never out of its harmony."""
    bar = span.bar
    stop = next((press.onset for press in around if press.onset > onset), None)
    if stop is None:
        at = onset - bar.onset if onset is not bar.onset else _START
        return within(span, onset, length_of(stroke.hold, bar, at, 0, bar.length - at))
    return within(span, onset, length_of(stroke.hold, bar, onset - bar.onset, 0, stop - onset))


def _beat(bar: MappedBar) -> Fraction:
    """The first felt beat of a bar's metre; a crotchet in free metre."""
    return bar.metre.beats[0] if bar.metre.beats else Fraction(1, 4)


def _entry(played: PlayedTune, span: HarmonySpan, around: Sequence[HandPress]) -> Fraction:
    """Where a harmony enters: with its note of the melody, which swing may move, unless the
    style strikes something before that."""
    bar = span.bar
    unit = None if played.swing.ratio is None else swing_unit(bar.metre)
    if unit is None or span.start is bar.onset:
        return span.start
    into = span.start - bar.onset
    if not into % unit:
        return span.start
    notes = zip(played.tune.melody.bars[bar.index], played.placed[bar.index], strict=True)
    moved = [later(bar.onset, onset) for note, (onset, _) in notes if note.onset == into]
    there = [press.onset for press in around if press.onset >= span.start]
    return min([*moved, *there], default=span.start)


def _last_stop(played: PlayedTune, bar: MappedBar) -> Fraction:
    """Where the melody's last note in a bar ends, if it is longer than half a felt beat; else
    the bar's start."""
    notes = zip(played.tune.melody.bars[bar.index], played.placed[bar.index], strict=True)
    sounding = [placed for note, placed in notes if note.pitches]
    if not sounding or sounding[-1][1] * 2 <= _beat(bar):
        return bar.onset
    return later(bar.onset, sum(sounding[-1], Fraction(0)))
