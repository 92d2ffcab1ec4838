"""What a player can ask for while it sounds, whatever it is asked with: key, pedal, button."""

from enum import StrEnum

from backing.arranging.arrangement import Role


class Action(StrEnum):
    """Something to do at once; loops and places change at the next bar line."""

    STOP_GO = "stop and go"
    AGAIN = "again from the count-in"
    SLOWER = "slower"
    FASTER = "faster"
    MELODY = "melody on and off"
    BASS = "bass on and off"
    CHORDS = "chords on and off"
    CLICK = "click on and off"
    THIS_BAR = "round and round in this bar"
    THIS_SECTION = "round and round in this part"
    WHOLE = "the whole tune"
    ASKED = "what was asked for at first"
    BAR_BACK = "a bar back"
    BAR_ON = "a bar on"
    SECTION_BACK = "a part back"
    SECTION_ON = "a part on"
    LAST_TIME = "this is the last time"
    KEYS = "show the keys"
    END = "end"


#: Which track an action turns on and off.
TRACK_OF = {
    Action.MELODY: Role.MELODY,
    Action.BASS: Role.BASS,
    Action.CHORDS: Role.CHORDS,
    Action.CLICK: Role.CLICK,
}
