"""Fast notes leave the left hand less to do, but never empty a slow bar."""

from collections.abc import Sequence
from fractions import Fraction

from backing.arranging.figures import PlacedStroke, laid
from backing.arranging.places import Place, Places, Stand
from backing.arranging.style import Style
from backing.music.played import BarShape, MappedBar

_FAST = frozenset({Place.FAST})


def unemptied(
    bars: Sequence[MappedBar], where: list[Stand], style: Style, dance: str
) -> list[Stand]:
    """Where each bar stands; without its fast notes where the style would be silent for more
    than a felt beat because of them."""
    if all(_FAST.isdisjoint(stand.places) for stand in where):
        return where
    known: dict[tuple[BarShape, Stand], Places] = {}
    found = []
    for bar, stand in zip(bars, where, strict=True):
        if _FAST.isdisjoint(stand.places):
            found.append(stand)
            continue
        alike = (bar.shape, stand)
        if alike not in known:
            plain = Stand(stand.position, stand.places - _FAST)
            emptied = _silence(bar, stand, style, dance) > max(
                _silence(bar, plain, style, dance), *(beat for _, beat, _ in bar.beats())
            )
            known[alike] = plain.places if emptied else stand.places
        found.append(Stand(stand.position, known[alike]))
    return found


def _silence(bar: MappedBar, stand: Stand, style: Style, dance: str) -> Fraction:
    """The longest silence that a style leaves in such a bar, changes of harmony left aside."""
    figure = style.figure_for(bar.metre, dance, stand.places)
    if any(stroke.on_change for stroke in figure.strokes):
        return Fraction(0)
    return _longest(laid(bar, figure, stand.position, stand.places), bar.length)


def _longest(strokes: Sequence[PlacedStroke], stop: Fraction) -> Fraction:
    longest = sounded = Fraction(0)
    for onset, length, _ in strokes:
        longest = max(longest, onset - sounded)
        sounded = max(sounded, stop if length is None else onset + length)
    return max(longest, stop - sounded)
