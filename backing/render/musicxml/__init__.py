"""Tunes to MusicXML 4.0, in their written form: what any notation program opens."""

from backing.render.musicxml.score import render_musicxml, score_element

__all__ = ["render_musicxml", "score_element"]
