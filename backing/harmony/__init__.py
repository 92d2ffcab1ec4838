"""Chords for a tune: which ones fit its notes, its key and the place in its form."""
