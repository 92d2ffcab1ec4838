"""What `backing fit` prints: the buttons under the notes, tables, the bellows as a curve."""

from collections.abc import Iterator, Sequence
from textwrap import wrap

from backing.box.bellows import Bellows
from backing.box.costs import Costs
from backing.box.fingering import Fingered, Fingering
from backing.box.fit import Fit, InKey, OnBoxes
from backing.box.grace_notes import first_graces, grace_changes
from backing.box.layout import Direction
from backing.box.words import (
    gap_words,
    grace_words,
    moved_by,
    paragraph,
    runs_out,
    spot_words,
)
from backing.wording import listed

WIDTH = 80
_LABEL = 7
_CURVE_HEIGHT, _CURVE_WIDTH = 8, 64


def head(found: Fit, percent: float = 100.0) -> str:
    """The first line: tune, box, profile, tempo; at which share of it the air is reckoned."""
    line = found.line
    slow = "" if percent == 100 else f", practised at {percent:g} %"
    return f"{line.title}: {found.layout.name}, {found.fingering.costs.name}, {line.tempo}{slow}"


def report(found: Fit) -> Iterator[str]:
    """The paragraph and what stands behind it."""
    yield from wrap(paragraph(found), WIDTH)
    yield ""
    for label, pitches in zip(("push only", "pull only", "both ways"), found.ways, strict=True):
        if pitches:
            yield from _item(label, " ".join(map(str, pitches)))
    if found.share is not None:
        yield from _item("chords", f"at hand {found.share:.0%} of the time")
        for gap in found.gaps:
            yield from _item("", gap_words(found.layout, gap))
    yield from _item("counts", counts(found.fingering.notes))
    yield from _graces(found.fingering)


def _graces(fingering: Fingering) -> Iterator[str]:
    """How many grace notes there are, and which are not played as written."""
    strokes = [each for _, _, group in first_graces(fingering) for each in group]
    if not strokes:
        return
    there = sum(each.there for each in strokes)
    words = "all" if there == len(strokes) else f"{there} of {len(strokes)}"
    yield from _item("graces", f"{words} on a button in the direction of their note")
    for change in grace_changes(fingering):
        yield from _item("", f"{grace_words(change, fingering.line.key)}.")


def _item(label: str, text: str) -> Iterator[str]:
    for place, row in enumerate(wrap(text, WIDTH - 13)):
        yield f"  {'' if place else label:<11}{row}"


def counts(notes: Sequence[Fingered]) -> str:
    """Reversals, crossings, notes each way."""
    pushed = sum(bool(n.presses) and n.direction is Direction.PUSH for n in notes)
    pulled = sum(bool(n.presses) and n.direction is Direction.PULL for n in notes)
    return (
        f"{sum(n.changed for n in notes)} bellows changes, "
        f"{sum(n.crossed for n in notes)} row crossings, "
        f"{pushed} notes on the push, {pulled} on the pull"
    )


def costs_text(fingering: Fingering, costs: Costs) -> Iterator[str]:
    """What the fingering costs, by name."""
    terms = sorted(fingering.terms.items(), key=lambda term: -term[1])
    text = ", ".join(f"{name} {cost:.1f}" for name, cost in terms)
    yield from _item("cost", f"{fingering.cost:.1f} by {costs.name}: {text}")


# -- tables -----------------------------------------------------------------------------


def boxes_table(found: Sequence[OnBoxes]) -> Iterator[str]:
    """The tune on each box, the best first."""
    width = max([len(one.layout.name) for one in found] + [3])
    yield f"{'box':<{width}}  fits      changes  crossings  chords   octave  not there"
    yield f"{'':<{width}}            a bar      a bar  at hand"
    for one in found:
        yield f"{one.layout.name:<{width}}  {_row(one.fit)}".rstrip()


def keys_table(found: Sequence[InKey]) -> Iterator[str]:
    """The tune in each key, the best first."""
    names = [str(one.key) for one in found]
    moves = [moved_by(one.semitones) for one in found]
    width, wide = max(map(len, names)), max(map(len, moves))
    yield f"{'':<{width}}  {'':<{wide}}            changes  crossings  chords   octave"
    start = f"{'key':<{width}}  {'moved':<{wide}}"
    yield f"{start}  fits      a bar      a bar  at hand          not there"
    for one, name, move in zip(found, names, moves, strict=True):
        yield f"{name:<{width}}  {move:<{wide}}  {_row(one.fit)}".rstrip()


def _row(found: Fit) -> str:
    bars = max(sum(not bar.pickup for bar in found.line.bars), 1)
    fits = "yes" if found.fits else "no"
    if found.fits and found.accidentals:
        fits = "acc."
    share = "-" if found.share is None else f"{found.share:.0%}"
    gone = " ".join(str(note.pitch) for note in found.missing[:4])
    more = f" +{len(found.missing) - 4}" if len(found.missing) > 4 else ""
    return (
        f"{fits:<6}  {found.fingering.reversals / bars:7.1f}  "
        f"{found.fingering.crossings / bars:9.1f}  {share:>7}  {found.octave:<6}  {gone}{more}"
    )


# -- the bellows ------------------------------------------------------------------------


def bellows_text(found: Fit, slower: Sequence[tuple[int, Bellows]]) -> Iterator[str]:
    """The bellows in figures and as a curve."""
    air = found.bellows
    yield "How far the bellows are out (top: as far as they go, bottom: closed)"
    yield ""
    yield from _curve(found, air)
    yield ""
    yield from _item("start", f"{_quarters(air.start)}")
    yield from _item("goes", f"from {air.lowest:.0%} to {air.highest:.0%} of the travel")
    for drift in air.drifts:
        beats = f"({abs(drift.beats):.0f} beats)"
        text = f"{drift.section} part: ends {_way(drift.share)} {beats}"
        yield from _item("" if drift.part else "drift", text)
    if air.limits:
        yield from _item("limits", f"{runs_out(air)}")
    if air.spots:
        places = dict.fromkeys(spot_words(found, spot) for spot in air.spots)
        yield from _item("air button", listed(list(places)[:5]))
    for percent, slow in slower:
        words = runs_out(slow) if slow.limits else "nothing runs out"
        yield from _item(f"at {percent} %", f"{words}; {_way(slow.drift)} in all")


def _way(share: float) -> str:
    """A drift in words."""
    return f"{abs(share):.0%} further {'out' if share > 0 else 'in'}"


def _quarters(out: float) -> str:
    names = {0.0: "with the bellows closed", 0.25: "a quarter out", 0.5: "half out",
             0.75: "three quarters out", 1.0: "all the way out"}  # fmt: skip
    return names[out]


def _curve(found: Fit, air: Bellows) -> Iterator[str]:
    """The curve as text: one column for each stretch of the tune."""
    bars = found.line.bars
    first, last = bars[0].onset, bars[-1].onset + bars[-1].length
    columns = [0.0] * _CURVE_WIDTH
    at, out = 0, air.start
    for column in range(_CURVE_WIDTH):
        until = first + (last - first) * (column + 1) / _CURVE_WIDTH
        while at < len(air.points) and air.points[at].position <= until:
            out = air.points[at].out
            at += 1
        columns[column] = out
    for row in range(_CURVE_HEIGHT, -1, -1):
        marks = "".join("*" if round(out * _CURVE_HEIGHT) == row else " " for out in columns)
        label = {_CURVE_HEIGHT: "full", _CURVE_HEIGHT // 2: "half", 0: "closed"}.get(row, "")
        yield f"  {label:>6} |{marks}".rstrip()
    ruler = [" "] * _CURVE_WIDTH
    part = -1
    for bar in bars:
        column = int((bar.onset - first) / (last - first) * _CURVE_WIDTH)
        if bar.part != part and column < _CURVE_WIDTH:
            ruler[column] = bar.section[:1]
        part = bar.part
    yield f"         +{'-' * _CURVE_WIDTH}"
    yield f"          {''.join(ruler)}".rstrip()
