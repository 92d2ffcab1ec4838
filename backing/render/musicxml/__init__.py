"""Tunes to MusicXML 4.0, in their written form: what any notation program opens.

music21 writes the notes (`notes`: accidentals, beams, tuplets, ties, slurs, signs); the
frame round them is written here (`score`, `marks`), since implied repeats, jumps, chord
symbols as they were written and exact tempi do not come through it.
"""

from backing.render.musicxml.score import render_musicxml

__all__ = ["render_musicxml"]
