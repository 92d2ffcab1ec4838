"""Which style is played where the player names none."""

from backing.music.metre import Metre

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


def usual_style(dance: str, metre: Metre) -> str:
    """The name of the style for a dance, or for a tune without one."""
    if dance in BY_DANCE:
        return BY_DANCE[dance]
    return HELD if metre.free else EVERYDAY
