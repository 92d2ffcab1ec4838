"""Performances for sound: a few notes of each track."""

from collections.abc import Callable
from fractions import Fraction

import pytest

from backing.arranging.arrange import make_track
from backing.arranging.arrangement import Event, Origin, PlacedTempo
from backing.music.tempo import Tempo
from backing.practice.performance import Performance


@pytest.fixture(scope="session")
def quarters() -> Callable[..., Performance]:
    """A performance at 120 quarters a minute; keys by role, one after the other."""

    def build(lines, bars=1, muted=()):
        """So many bars of 4/4; a role's keys are crotchets (None is a rest)."""
        tracks = []
        for role, keys in lines.items():
            events = tuple(
                Event(Fraction(place, 4), Fraction(1, 4), (key,), 100, Origin(0, 0, 0))
                for place, key in enumerate(keys)
                if key is not None
            )
            track = make_track(role, events)
            tracks.append(track if role not in muted else track._replace(muted=True))
        tempo = PlacedTempo(Fraction(0), Tempo(Fraction(120), Fraction(1, 4)))
        return Performance("A few notes", Fraction(0), Fraction(bars), tuple(tracks), (), (tempo,))

    return build
