"""What a box strikes for a grace note: the one rule for what is played and what is printed."""

from collections.abc import Callable

from backing.music.played import Keys


def struck_for(grace: Keys, note: Keys, before: Keys, has: Callable[[int], bool]) -> Keys:
    """The MIDI keys that are struck for a grace note, a cut or a tap; () where it is left out.

    `has` tells what the box has as the bellows go for the `note` that it leads into.  What is
    missing there becomes a stroke of the note itself, so that the note is repeated; where that
    was struck just `before`, or is missing too, it is left out.  How players do it is common
    practice, no source.

    >>> def pushed(key):
    ...     return key in (69, 74, 78)
    >>> struck_for((78,), (74,), (), pushed), struck_for((76,), (74,), (), pushed)
    ((78,), (74,))
    >>> struck_for((76,), (74,), (74,), pushed), struck_for((76,), (73,), (), pushed)
    ((), ())
    """
    if all(map(has, grace)):
        return grace
    return note if note and note != before and all(map(has, note)) else ()
