"""Dances: how fast each usually goes, which beat is felt, and whether it swings.

Usual tempi are kept as bars a minute by dance and metre, so that a reel written in
semiquavers in 2/4 and one in quavers in 4/4 agree.  No standard gives them: they are
working values within the range beside each row.  A range names the pages that give it
(practice, no authority), or it is from memory:

- Breathnach: Ceol Rince na hÉireann 1, p. ix, as quoted at chiffboard.mati.ca, p=210144
- ceilidh: sydneyirishceilidancers.com.au/dance-music-1
- measured: from recordings, clarinette.net/forum/phpBB3, t=11649
- mudcat: search.mudcat.org, messages__Message_ID=2438330
- sessions: forums.chiffandfipple.com, p=36928
"""

from collections.abc import Mapping
from fractions import Fraction
from typing import NamedTuple

from backing.music.dance_words import plain_words, words_for
from backing.music.metre import Metre
from backing.music.tempo import Tempo

_HALF = Fraction(1, 2)
TWO_TO_ONE = Fraction(2)


class Dance(NamedTuple):
    """A dance: its usual bars a minute, its felt beats, its swing.

    `bars` and `beats` go by metre ("4/4"); the first entry of `bars` is the usual metre.
    `swing` is the ratio of a swung pair, or None where pairs are even.  `dance_words.py` has
    the words that it goes by.
    """

    name: str
    bars: dict[str, Fraction]
    beats: Mapping[str, tuple[Fraction, ...]]
    swing: Fraction | None = None


def _bars(**by_metre: float | str) -> dict[str, Fraction]:
    return {name[1:].replace("_", "/"): Fraction(str(n)) for name, n in by_metre.items()}


_MINIMS = {"4/4": (_HALF, _HALF)}

#: The first whose words stand in the dance's name is taken, so longer names come first.
DANCES = (
    # minim 84 to 104, common practice, from memory; 92 taken
    Dance("3/2 hornpipe", _bars(m3_2="92/3"), {}),
    # dotted crotchet 144 (Breathnach); 120 taken, for learners
    Dance("slip jig", _bars(m9_8=40), {}),
    # dotted crotchet 132 (ceilidh) to 150 (sessions)
    Dance("slide", _bars(m12_8=33, m6_8=66), {}),
    # dotted crotchet 137 (Breathnach); 120 taken
    Dance("single jig", _bars(m6_8=60, m12_8=30), {}),
    # dotted crotchet 100 (sessions) to 127 (Breathnach); 112 taken
    Dance("jig", _bars(m6_8=56, m12_8=28, m9_8=40), {}),
    # crotchet 92 to 128; 30 bars a minute, common practice, from memory; never swung here
    Dance("strathspey", _bars(m4_4=30, m2_2=30, m2_4=30), {}),
    # crotchet 110 (billtroxler.com/hornpipes2.html) to 200 (ceilidh); 150 taken, swung 2 to 1:
    # common practice, no source
    Dance("hornpipe", _bars(m4_4="37.5", m2_2="37.5", m2_4="37.5"), {}, TWO_TO_ONE),
    # as the hornpipe, swung as it is: its written dots soften to the same (common practice, no
    # source)
    Dance("clog", _bars(m4_4="37.5", m2_2="37.5", m2_4="37.5"), {}, TWO_TO_ONE),
    # minim 90 (sessions) to 124 (ceilidh); 108 taken
    Dance("reel", _bars(m4_4=54, m2_2=54, m2_4=54), _MINIMS),
    # crotchet 108 to 143 (mudcat); 126 taken
    Dance("polka", _bars(m2_4=63, m4_4="31.5", m2_2="31.5"), {}),
    # crotchet 90 (measured) to 128 (australianfolkmusic.com.au); 104 taken, swung as a hornpipe
    Dance("schottische", _bars(m4_4=26, m2_2=26, m2_4=26), {}, TWO_TO_ONE),
    # crotchet 100 to 120, mean 110 (measured)
    Dance("mazurka", _bars(m3_4="110/3"), {}),
    # crotchet 110 to 180 (measured); 138 taken
    Dance("waltz", _bars(m3_4=46, m3_8=46), {}),
    # two-time: 132 half bars (measured); three-time: 55 to 70 bars, common practice, from memory
    Dance("bourrée", _bars(m3_8=60, m3_4=60, m2_4=63, m2_2=63, m4_4=63), _MINIMS),
    # crotchet (or dotted crotchet) 112, from memory, to 123 (mudcat); 116 taken
    Dance("march", _bars(m4_4=29, m2_4=58, m2_2=58, m6_8=58), {}),
    # half-bar step 80 to 110, common practice, from memory
    Dance("morris", _bars(m4_4=45, m2_4=45, m2_2=45, m6_8=45), _MINIMS),
    # crotchet 60 to 80, or dotted crotchet 48, common practice, from memory
    Dance("air", _bars(m4_4=18, m3_4=24, m6_8=24, m2_2=18, m2_4=36, m9_8=16, m12_8=12), {}),
)  # fmt: skip

#: Where no dance is named, by metre: the dance that the metre is mostly written for (working
#: values, no source).
_BY_METRE = _bars(
    m2_4=58, m4_4=29, m2_2=54, m3_4=46, m3_8=60, m3_2="92/3", m6_8=56, m9_8=40, m12_8=33, m6_4=40
)
_CROTCHETS_A_MINUTE = Fraction(116)


def find_dance(text: str) -> Dance | None:
    """The dance that a text names, in any of the languages, or None.

    >>> find_dance("Slip-Jig").name, find_dance("gavotte")
    ('slip jig', None)
    """
    words = " " + " ".join(plain_words(text))
    for dance in DANCES:
        if any(f" {word}" in words for word in words_for(dance.name)):
            return dance
    return None


def dance_of(text: str, metre: Metre) -> Dance | None:
    """The dance that a text names, seen in its metre: a hornpipe in 3/2 is one of its own."""
    dance = find_dance(text) if text.strip() else None
    if dance and dance.name == "hornpipe" and str(metre) == "3/2":
        return DANCES[0]
    return dance


def felt(metre: Metre, dance: Dance | None) -> Metre:
    """The metre with the beats that the dance is felt in: a 4/4 reel in minims."""
    beats = dance.beats.get(str(metre)) if dance else None
    return metre.with_beats(*beats) if beats else metre


def usual_tempo(metre: Metre, dance: Dance | None) -> Tempo:
    """How fast such a tune usually goes, in felt beats.

    >>> from backing.music.metre import parse_metre
    >>> str(usual_tempo(parse_metre("4/4"), find_dance("reel")))
    '1/2 = 108'
    """
    metre = felt(metre, dance)
    if metre.free:
        return Tempo(_CROTCHETS_A_MINUTE, Fraction(1, 4))
    unit = metre.beats[0]
    bars = (dance.bars if dance else {}).get(str(metre)) or _BY_METRE.get(str(metre))
    wholes = bars * metre.length if bars else _CROTCHETS_A_MINUTE / 4
    return Tempo(wholes / unit, unit)
