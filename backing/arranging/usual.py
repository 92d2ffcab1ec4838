"""Which style is played where the player names none, and which suit a dance."""

from collections.abc import Iterable

from backing.arranging.style import Style
from backing.music.dance import Dance
from backing.music.metre import Metre, parse_metre

EVERYDAY, HELD = "alternating", "sustained"
#: The style made for a dance, by the dance's name; other dances take the everyday one.
BY_DANCE = {
    "3/2 hornpipe": "three-two",
    "slip jig": "jig",
    "slide": "jig",
    "single jig": "jig",
    "jig": "jig",
    "hornpipe": "hornpipe",
    "clog": "hornpipe",
    "polka": "polka",
    "schottische": "schottische",
    "mazurka": "mazurka",
    "waltz": "waltz",
    "bourrée": "bourree",
    "march": "march",
    "morris": "morris",
    "air": HELD,
}
#: What suits a dance besides (common practice, no source).
ALSO_FOR = {
    "reel": ("sparing", "light", "three-three-two"),
    "slip jig": ("sparing",),
    "slide": ("sparing",),
    "single jig": ("sparing",),
    "jig": ("sparing", "three-on-two"),
    "waltz": ("long-bass", "two-on-three"),
    "air": ("breathing", "drone", "pedal"),
}


def usual_style(dance: str, metre: Metre) -> str:
    """The name of the style for a dance, or for a tune without one."""
    if dance in BY_DANCE:
        return BY_DANCE[dance]
    return HELD if metre.free else EVERYDAY


def styles_for(dance: Dance, styles: Iterable[Style]) -> list[str]:
    """The names of the styles that suit a dance: the usual one first, then those that suit
    it besides, then those of `styles` with figures for it."""
    usual = usual_style(dance.name, parse_metre(next(iter(dance.bars))))
    own = [
        style.name for style in styles if any(dance.name in each.dances for each in style.figures)
    ]
    return list(dict.fromkeys([usual, *ALSO_FOR.get(dance.name, ()), *own]))
