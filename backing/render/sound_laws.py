"""The numbers of our own sound that stand in no table: how loud, how quick, how long.

They serve every output that makes this sound, in whatever language, and load nothing.
"""

from math import log

# -- a key -------------------------------------------------------------------------------

#: Strengths that sound different: a wave is made for each of them.
STRENGTH_STEP = 8
#: Partials stop below this share of the sample rate.
HIGHEST = 0.46
#: Amplitude of a key at full velocity and channel volume, before loudness is set.
FULL = 0.25
#: An octave higher is softer by so many dB, and sounds as loud: the ear hears high
#: partials louder (as the K weighting of ITU-R BS.1770 counts them).
EVEN_DB = 1.0
#: Where that is nothing: A above middle C.
EVEN_KEY = 69
#: The left hand's two reeds are half as far apart as the melody's, in cents at most so far
#: (a working value, no source).
LEFT_HAND_CENTS = 2.5
#: A knock lasts until e ** -10 of it is left.
KNOCK_ROOM = 10
#: A key that is struck again is up for so many seconds before it speaks anew, for a quarter of
#: its length at most: a finger needs that long, and without it two notes would sound as one.
LIFT = 0.03

# -- how a reed comes and goes -------------------------------------------------------------

#: The rise is 1 - e ** -(t / tau) ** BEND: it starts softly, and comes near its height slowly.
BEND = 1.5
#: After so many tau nothing is left to rise (e ** -8).
RISE_TAUS = 4.0
#: After so many tau the upper partials are all there.
PARTIALS_TAUS = 2.5
#: Seconds to a tenth, half and nine tenths of the height, in tau.  At half of it the upper partials
#: are not all there yet, which takes a fiftieth of the height.
_TENTH, _HALF, _NINE_TENTHS = (
    float(log(1 / (1 - share)) ** (1 / BEND)) for share in (0.1, 0.51, 0.9)
)
#: The upper partials, which come last, make the whole rise so many times as long (measured).
_SLOWER = 1.06
#: So many tau after the start of the rise the note begins.
LEAD_TAUS = _HALF
#: So many tau are the seconds of an attack, as the table has them.
ATTACK_TAUS = (_NINE_TENTHS - _TENTH) * _SLOWER

# -- the pressure of the bellows -----------------------------------------------------------

#: Seconds until the curve comes again.  Working values, no source: slower than a phrase is felt,
#: so that nothing pumps.
BREATH_SECONDS = 20.0
#: How far it goes to either side of the middle, as a share: from highest to lowest about a
#: decibel; how much of that goes round once, twice and three times meanwhile: no even wave.
BREATH_CURVE = tuple(0.06 * share for share in (0.6, 0.25, 0.3))
#: Seconds in which the pressure falls and comes back where the bellows turn, and by how many dB.
#: Working values, no source: a decibel for so short a time is felt rather than heard.
DIP_SECONDS = 0.03
DIP_DB = 0.9
