"""Tunes from Standard MIDI Files (SMF 1.0, RP-001).

Bytes are checked before anything is built from them (`safe`), then told apart into lines
of notes and what stands above them (`events`).  The melody is chosen (`choice`), bars are
laid (`frame`, `metre`; `told` reads the words of our own files), notes are put on the grid
that they were meant for (`grid`, `swing`), spelled (`key`) and cut into bars (`notes`).
"""

from backing.parse.midi.tune import parse_midi

__all__ = ["parse_midi"]
