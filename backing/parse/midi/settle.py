"""The bars of a tune from those of its file: none empty at the ends, a pickup set apart."""

from collections.abc import Sequence
from fractions import Fraction

from backing.parse.midi.frame import Span, full_bar
from backing.parse.midi.swing import Struck


def settle(spans: list[Span], notes: Sequence[Struck], *, told: bool) -> tuple[list[Span], int]:
    """The bars that hold all notes, and how many empty ones were left out at the start.

    But where the file tells its bars, there are no empty ones at both ends, and the pickup and
    the last bar complete each other.
    """
    while spans[-1].stop < notes[-1].stop:
        metre = spans[-1].metre
        spans.append(Span(spans[-1].stop, full_bar(metre), metre))
    if told:
        return spans, 0
    spans, empty = _begun(spans, notes[0].onset)
    while len(spans) > 1 and spans[-1].start >= notes[-1].stop:
        spans.pop()
    first, last = spans[0], spans[-1]
    shorter = Span(last.start, last.length - first.length, last.metre, last.label)
    short = first.length < first.metre.length and last.length == last.metre.length
    if len(spans) > 2 and short and notes[-1].stop <= shorter.stop:
        spans[-1] = shorter
    return spans, empty


def _begun(spans: list[Span], onset: Fraction) -> tuple[list[Span], int]:
    """The bars from the one where the melody begins, and how many were before; a first bar whose
    first half is empty is a pickup."""
    empty = sum(1 for span in spans if span.stop <= onset)
    spans = spans[empty:]
    first = spans[0]
    if len(spans) > 1 and first.length < spans[1].metre.length and not empty:
        spans[0] = Span(first.start, first.length, spans[1].metre)
    elif len(spans) > 1 and onset - first.start >= first.length / 2:
        spans[0] = Span(onset, first.stop - onset, first.metre)
    return spans, empty
