"""A tune for each time that it is played: the first, later ones, the last.

Played several times a tune stops only at the very end: what a style does at a tune's end
belongs to the last time.  What it does the second time belongs to every later one.  A player
may ask for another style each time, for all parts or for some.
"""

from bisect import bisect_left
from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from types import MappingProxyType
from typing import NamedTuple

from backing.arranging.arrangement import Arrangement, Event
from backing.arranging.face import ONCE, Face
from backing.arranging.style import Style
from backing.music.played import MappedBar


class StyleTurns(NamedTuple):
    """Styles for the times that each part of a tune is heard, the last going on.

    Without `styles` the parts that are not named have none yet.  `parts` has others for the
    parts that it names, by their names in small letters.
    """

    styles: tuple[Style, ...]
    parts: Mapping[str, tuple[Style, ...]] = MappingProxyType({})

    @property
    def first(self) -> Style:
        """The one that a tune begins with."""
        return self.styles[0]

    @property
    def all(self) -> tuple[Style, ...]:
        """Every style in it, once."""
        named = (style for styles in self.parts.values() for style in styles)
        return tuple(dict.fromkeys((*self.styles, *named)))

    @property
    def most(self) -> int:
        """After how many times nothing changes any more."""
        return max((len(styles) for styles in (self.styles, *self.parts.values())), default=1)

    def of(self, section: str, time: int) -> Style:
        """The style of a part, the so manieth time that it is heard (from 1)."""
        styles = self.parts.get(section.lower(), self.styles)
        return styles[min(time, len(styles)) - 1]


def styles_of_parts(bars: Sequence[MappedBar], turns: StyleTurns, face: Face) -> list[Style]:
    """The style of each part, one time through a section, in the order in which they are played."""
    sections = {bar.part: bar.section for bar in bars}
    names = [sections[part] for part in sorted(sections)]
    found = []
    for place, name in enumerate(names):
        heard = names[:place].count(name) + 1
        before = (face.time - 1) * names.count(name)
        found.append(turns.of(name, face.time if face.alone else heard + before))
    return found


#: Bass and chord events.
Hands = tuple[tuple[Event, ...], tuple[Event, ...]]


def joined_hands(bars: Sequence[MappedBar], by_part: Sequence[Hands]) -> Hands:
    """What sounds in each part, of what its style plays through the whole tune."""
    if len(set(map(id, by_part))) == 1:
        return by_part[0]
    bounds = [bar.onset for bar in bars if bar.opens and not bar.lead][1:]
    found: tuple[list[Event], list[Event]] = ([], [])
    starts = [bars[0].onset, *bounds]
    for hands, start, stop in zip(by_part, starts, [*bounds, bars[-1].stop], strict=True):
        for line, events in zip(found, hands, strict=True):
            first, last = (bisect_left(events, at, key=_onset) for at in (start, stop))
            line.extend(events[first:last])
    return tuple(found[0]), tuple(found[1])


def _onset(event: Event) -> Fraction:
    return event.onset


class Faces:
    """The arrangements of a tune for each time through, made when they are first asked for;
    after `different` times the later ones are alike."""

    def __init__(
        self,
        make: Callable[[Face], Arrangement],
        different: int = 1,
        bare: Callable[[Face], Arrangement] | None = None,
    ) -> None:
        """`make` arranges one, `bare` one without the thirds of its chords; after `different`
        times the later ones are alike."""
        self._make, self._bare = make, bare or make
        self.different = max(different, 2)
        self._made: dict[Face, Arrangement] = {}

    def without_thirds(self) -> "Faces":
        """The same, with the third left out of every chord."""
        return Faces(self._bare, self.different)

    def __call__(self, face: Face = ONCE) -> Arrangement:
        """The tune as it is played at such a time."""
        known = face._replace(time=min(face.time, self.different))
        if known not in self._made:
            self._made[known] = self._make(known)
        return self._made[known]


def faces_of(arranged: Faces | Arrangement) -> Faces:
    """The faces of a tune; an arrangement alone is the same at every time."""
    return arranged if isinstance(arranged, Faces) else Faces(lambda face: arranged)
