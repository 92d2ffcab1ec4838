"""The keys of the bars of a MIDI file: told by it, or worked out where it tells none."""

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction

from backing.errors import Notice
from backing.music.key import Key
from backing.parse.midi.events import Said
from backing.parse.midi.frame import Span, near
from backing.parse.midi.key import find_key, fits_poorly, key_text, settle_mode
from backing.parse.midi.swing import Struck
from backing.parse.midi.told import told_keys

_NEAR = Fraction(1, 32)


def bar_keys(
    said: Said, spans: Sequence[Span], notes: Sequence[Struck], ppq: int, *, own: bool
) -> tuple[list[Key], list[Notice]]:
    """The key of each bar: the one told in words; else the file's, with the mode that the tune
    has; else worked out.  `own` files are believed."""
    start = spans[0].start + _NEAR
    told = told_keys(said)
    if told and near(told[0][0], ppq) > start:
        told = []
    rows = [(near(tick, ppq), key) for tick, key in told or said.keys]
    before = next((key for place, key in reversed(rows) if place <= start), None)
    changes = len({key for _, key in rows}) > 1
    words = ""
    if before and (told or changes):
        head = before
    else:
        head, words = _head_key(before, notes, own=own)
    later = [(place, key) for place, key in rows if place > start and changes]
    places = [place for place, _ in later]
    keys = [head, *(key for _, key in later)]
    found = [keys[bisect_right(places, span.start + _NEAR)] for span in spans]
    return found, [Notice(words, "")] if words else []


def _head_key(told: Key | None, notes: Sequence[Struck], *, own: bool) -> tuple[Key, str]:
    """The key of a tune that stays in one: told by the file, but for its mode and for a
    signature that was never set; else worked out.  What was, in words."""
    weights = _weights(notes)
    last = notes[-1].keys[-1] % 12
    found = find_key(weights, last)
    if told is None:
        return found, f"the file has no key signature; {key_text(found)} is taken, by the notes"
    if not own and not told.fifths and fits_poorly(told, found, weights):
        return found, f"the file says {key_text(told)}; {key_text(found)} fits the notes"
    settled = settle_mode(told, weights, last)
    if settled == told:
        return settled, ""
    return settled, f"the file says {key_text(told)}; the notes make it {key_text(settled)}"


def _weights(notes: Sequence[Struck]) -> list[float]:
    """How long each of the 12 pitch classes sounds, in whole notes."""
    weights = [0.0] * 12
    for note in notes:
        for key in note.keys:
            weights[key % 12] += float(note.stop - note.onset)
    return weights
