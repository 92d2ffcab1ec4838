"""The keys that lie on a box without its accidental buttons."""

from backing.box.layout import Layout
from backing.music.key import Key
from backing.music.tonality import keys_of_modes


def keys_on(box: Layout) -> tuple[Key, ...]:
    """The major, minor, mixolydian and dorian keys of which the box has every note, in some
    octave and direction."""
    return tuple(key for key in keys_of_modes() if lies_on(key, box))


def lies_on(key: Key, box: Layout) -> bool:
    """Whether the box has every note of a key without its accidental buttons."""
    at_hand = {tone % 12 for b in box.buttons if not b.accidental for tone in (b.push, b.pull)}
    return at_hand.issuperset(key.scale)
