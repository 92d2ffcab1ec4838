"""How often Python looks for garbage: seldom, for next to nothing of ours is a ring of objects."""

import gc

#: After so many new objects it is looked for; Python's own 700 cost a tenth of a short run.
_NEW_OBJECTS = 10_000


def collect_seldom() -> None:
    """Look for garbage seldom, and never among what is loaded by now, which stays."""
    gc.freeze()
    gc.set_threshold(_NEW_OBJECTS)
    gc.enable()
