"""What `backing fit` prints: the report, the points, the bellows as a curve."""

from collections.abc import Iterator, Sequence
from textwrap import wrap

from backing.box.bellows import Bellows
from backing.box.costs import Costs
from backing.box.fingering import Fingered, Fingering
from backing.box.fit import Fit
from backing.box.grace_notes import first_graces, grace_changes
from backing.box.grade import grade_of, grade_words
from backing.box.hardness import hardness_on
from backing.box.layout import Direction
from backing.box.words import (
    drifts_in_words,
    gaps_besides,
    grace_said,
    lasts,
    paragraph,
    spot_words,
)
from backing.music.saying import said_in
from backing.wording import count, listed

WIDTH = 80
_MOST_SPOTS = 5
_CURVE_HEIGHT, _CURVE_WIDTH = 8, 64


def head(found: Fit, percent: float = 100.0) -> str:
    """The first line: tune, box, profile, tempo; at which share of it the air is reckoned."""
    line = found.line
    slow = "" if percent == 100 else f", practised at {percent:g} %"
    how = f"profile {found.fingering.costs.name}, {line.tempo}{slow}"
    return f"{line.title}: {found.layout.name}, {how}"


def report(found: Fit) -> Iterator[str]:
    """The paragraph and what stands behind it."""
    yield from wrap(paragraph(found), WIDTH)
    if found.fits:
        grade = grade_of(hardness_on(found.fingering))
        yield from wrap(grade_words(grade, found.line.tempo), WIDTH)
    yield ""
    for label, pitches in zip(("push only", "pull only", "both ways"), found.ways, strict=True):
        if pitches:
            yield from _item(label, " ".join(map(str, pitches)))
    yield from _item("", "(C4 is middle C)")
    if found.share is not None:
        yield from _item("chords", f"at hand {_per_cent(found.share)} of the time")
        for text in gaps_besides(found):
            yield from _item("", text)
    yield from _item("in all", counts(found.fingering.notes))
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
        yield from _item("", f"{said_in(grace_said(change, fingering.line.key))}.")


def _item(label: str, text: str) -> Iterator[str]:
    for place, row in enumerate(wrap(text, WIDTH - 13)):
        yield f"  {'' if place else label:<11}{row}"


def counts(notes: Sequence[Fingered]) -> str:
    """Reversals, crossings, notes each way."""
    pushed = sum(bool(n.presses) and n.direction is Direction.PUSH for n in notes)
    pulled = sum(bool(n.presses) and n.direction is Direction.PULL for n in notes)
    changes = count(sum(n.changed for n in notes), "bellows change")
    crossings = count(sum(n.crossed for n in notes), "row crossing")
    return f"{changes}, {crossings}, {count(pushed, 'note')} on the push, {pulled} on the pull"


def _per_cent(share: float) -> str:
    return f"{100 * share:.0f} %"


def points_text(fingering: Fingering, costs: Costs) -> Iterator[str]:
    """What the fingering costs, by name."""
    terms = sorted(fingering.terms.items(), key=lambda term: -term[1])
    text = ", ".join(f"{name} {cost:.1f}" for name, cost in terms)
    yield from _item("points", f"{fingering.cost:.1f} by {costs.name}: {text}")


# -- the bellows ------------------------------------------------------------------------


def bellows_text(found: Fit, slower: Sequence[tuple[int, Bellows]]) -> Iterator[str]:
    """The bellows in figures and as a curve."""
    air = found.bellows
    yield "How far the bellows are out (top: as far as they go, bottom: closed)"
    yield ""
    yield from _curve(found, air)
    yield ""
    yield from _item("start", f"{_quarters(air.start)}")
    goes = f"from {_per_cent(air.lowest)} to {_per_cent(air.highest)} of the way out"
    yield from _item("goes", goes)
    for place, text in enumerate(drifts_in_words(air)):
        yield from _item("" if place else "ends", text)
    yield from _item("air", lasts(air))
    if air.spots:
        places = dict.fromkeys(spot_words(found, spot) for spot in air.spots)
        yield from _item("air button", listed(list(places)[:_MOST_SPOTS]))
    for percent, slow in slower:
        yield from _item(f"at {percent} %", lasts(slow))


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
