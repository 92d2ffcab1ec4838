"""Which dance a tune is where none is told: by the words of its titles, else by its rhythm.

MusicXML and MIDI have no place for a dance, and many tunes in ABC leave `R:` out.  A title is
believed first, where it names a dance of the tune's metre.  One that names a dance of which
nothing is known here leaves the tune without any.
"""

from typing import NamedTuple

from backing.errors import Notice
from backing.music.dance import DANCES, Dance, dance_of
from backing.music.dance_words import dances_named
from backing.music.metre import Metre
from backing.music.rhythm import dance_by_rhythm
from backing.music.tune import Tune
from backing.wording import with_article

_BY_NAME = {dance.name: dance for dance in DANCES}


class FoundDance(NamedTuple):
    """A dance that was found for a tune, and what says so, in words."""

    dance: Dance
    because: str


def found_dance(tune: Tune) -> FoundDance | None:
    """The dance of a tune by its titles, else by its rhythm; None where neither is clear.

    What the tune tells of its dance is left aside.
    """
    for title in tune.titles or (tune.title,):
        named = dance_in_title(title, tune.metre)
        if named is not None:
            found = _BY_NAME.get(named)
            return FoundDance(found, "for its title") if found else None
    by_rhythm = dance_by_rhythm(tune)
    if by_rhythm is None:
        return None
    return FoundDance(_BY_NAME[by_rhythm.dance], f"for its rhythm: {by_rhythm.because}")


def dance_in_title(title: str, metre: Metre | None = None) -> str | None:
    """The dance that a title names, "" for one that is not known here, None for none.

    Of several the last; a dance that is not danced in this metre is left out.

    >>> from backing.music.metre import parse_metre
    >>> dance_in_title("The Waltzing Bear's Reel", parse_metre("4/4"))
    'reel'
    """
    for dance in dances_named(title):
        seen = dance_of(dance, metre) if metre else _BY_NAME.get(dance)
        if seen is None or metre is None or str(metre) in seen.bars:
            return seen.name if seen else ""
    return None


def about_dance(tune: Tune, named: str = "") -> tuple[Notice, ...]:
    """What there is to say of a dance that had to be found; `named` is what a player names."""
    found = None if named or dance_of(tune.dance, tune.metre) else found_dance(tune)
    if found is None:
        return ()
    told = f"{tune.dance!r} is no dance that is known here" if tune.dance else "no dance is given"
    return (
        Notice(
            f"{told}: taken as {with_article(found.dance.name)}, {found.because}",
            "--dance takes it as another",
        ),
    )
