"""What a player asks for, as one value in musical terms, whoever reads it.

The command line reads words into it; whatever else lets a player choose builds the same
value.  Styles, box and costs are in it loaded: nothing here opens a file.
"""

from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

from backing.arranging.arrange import Manner
from backing.arranging.arrangement import Role
from backing.arranging.faces import StyleTurns
from backing.arranging.style import Style
from backing.harmony.source import ChordSource
from backing.practice.plan import Plan

if TYPE_CHECKING:
    from backing.box.costs import Costs
    from backing.box.layout import Layout


class Asked(NamedTuple):
    """What is to be practised, and how.

    `plan` says which bars, how fast, how often and what is muted, `manner` how the tune is
    played.  A `style` may be several, for the times through and for parts (`StyleTurns`).
    Without one, or for the parts that have none there, the usual one for the dance is taken
    from `styles`, by its name: give one or the other.  Without `chords` they are the tune's
    own, found where it has none.  With a `box` the left hand plays only what that box has
    under the melody, fingered by `costs`.  `balance` is the amplitude of tracks in per cent of
    usual, from 0 (the melody goes up to 133).  `once_to_yourself` plays the first part once
    before all else, as dancers wait for.
    """

    plan: Plan = Plan()
    style: Style | StyleTurns | None = None
    styles: Mapping[str, Style] = MappingProxyType({})
    manner: Manner = Manner()
    chords: ChordSource | None = None
    box: "Layout | None" = None
    costs: "Costs | None" = None
    balance: Mapping[Role, Fraction] = MappingProxyType({})
    once_to_yourself: bool = False
