"""The keys that lie on a box without its accidental buttons."""

from backing.box.layout import Layout
from backing.music.key import Key
from backing.music.tonality import keys_of_modes


def keys_on(box: Layout) -> tuple[Key, ...]:
    """The major, mixolydian, dorian and minor keys of which the box has every note, in some
    octave and direction."""
    at_hand = {key % 12 for b in box.buttons if not b.accidental for key in (b.push, b.pull)}
    return tuple(key for key in keys_of_modes() if at_hand.issuperset(key.scale))
