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
    FROM_HERE = "from here"
    TO_HERE = "to here, round and round"
    WHOLE = "the whole tune"
    ASKED = "what was asked for at first"
    BAR_BACK = "a bar back"
    BAR_ON = "a bar on"
    SECTION_BACK = "a part back"
    SECTION_ON = "a part on"
    LAST_TIME = "this is the last time"
    STEP_BACK = "a step back"
    STEP_ON = "a step on"
    STAY = "stay on this step"
    KEYS = "show the keys"
    END = "end"


#: What there is to ask for only where a practice has several steps.
OF_STEPS = frozenset({Action.STEP_BACK, Action.STEP_ON, Action.STAY})
#: Which track an action turns on and off.
TRACK_OF = {
    Action.MELODY: Role.MELODY,
    Action.BASS: Role.BASS,
    Action.CHORDS: Role.CHORDS,
    Action.CLICK: Role.CLICK,
}
