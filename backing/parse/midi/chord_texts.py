"""The texts of a MIDI file that are chord symbols."""

from backing.music.chord import is_chord
from backing.parse.midi.events import Said, TextEvent


def chord_texts(said: Said) -> list[TextEvent]:
    """The texts that are chord symbols; markers where no texts are, but for the letters of
    sections."""
    texts = [event for event in said.texts if is_chord(event.text)]
    if texts:
        return texts
    marked = [event for event in said.markers if is_chord(event.text)]
    names = list(dict.fromkeys(event.text for event in marked))
    return [] if names == list("ABCDEFG"[: len(names)]) else marked
