"""Where A is: other tunings than 440 Hz, as MIDI says them (RPN 1 and 2)."""

from math import log2

from backing.errors import PracticeError

#: Hertz of the A above middle C, as synthesisers have it.
A4 = 440.0
LOWEST_A4, HIGHEST_A4 = 400.0, 480.0
#: Cents that the two reeds of a note of the melody are apart, where nothing else is asked for
#: (a working value, no source), and may be at most.
TREMOLO = 5.0
MOST_TREMOLO = 30.0
#: Control changes: controller, value.
ControlChanges = tuple[tuple[int, int], ...]
_RPN_MSB, _RPN_LSB, _DATA_MSB, _DATA_LSB = 101, 100, 6, 38
_FINE, _COARSE, _NULL = 1, 2, 127
_CENTRE, _STEPS_A_SEMITONE, _MOST = 8192, 8192, 16383


def check_a4(a4: float) -> None:
    """Raise PracticeError where A is not where a box could have it."""
    if not LOWEST_A4 <= a4 <= HIGHEST_A4:
        raise PracticeError(
            f"A cannot be at {a4:g} Hz",
            f"give a tuning from {LOWEST_A4:g} to {HIGHEST_A4:g} Hz; most are near 440",
        )


def check_tremolo(cents: float) -> None:
    """Raise PracticeError where two reeds could not be so far apart."""
    if not 0 <= cents <= MOST_TREMOLO:
        raise PracticeError(
            f"a tremolo of {cents:g} cents", f"give 0 to {MOST_TREMOLO:g} cents; 0 is dry"
        )


def cents_of(a4: float) -> float:
    """How far a tuning is from 440 Hz.

    >>> round(cents_of(442.0), 3)
    7.851
    """
    return 1200 * log2(a4 / A4)


#: What brings a channel back to 440 Hz: no semitones, no steps.
_BACK = (
    (_RPN_MSB, 0), (_RPN_LSB, _COARSE), (_DATA_MSB, 64), (_DATA_LSB, 0),
    (_RPN_MSB, 0), (_RPN_LSB, _FINE), (_DATA_MSB, 64), (_DATA_LSB, 0),
    (_RPN_MSB, _NULL), (_RPN_LSB, _NULL),
)  # fmt: skip


def tuning_reset() -> ControlChanges:
    """The control changes that tune a channel to 440 Hz, wherever it was: resetting all
    controllers leaves the tuning as it is (MIDI RP-015)."""
    return _BACK


def tuning_controls(a4: float) -> ControlChanges:
    """The control changes (controller, value) that tune a channel; none at 440 Hz.

    Channel fine tuning is RPN 1: 14 bits, 8192 in tune, 8192 steps a semitone.  Further
    than a semitone the whole ones are RPN 2, 64 in tune.  RPN null ends it.

    >>> tuning_controls(442.0)
    ((101, 0), (100, 1), (6, 69), (38, 3), (101, 127), (100, 127))
    """
    check_a4(a4)
    if a4 == A4:
        return ()
    semitones = cents_of(a4) / 100
    whole = int(semitones)
    fine = min(_CENTRE + round((semitones - whole) * _STEPS_A_SEMITONE), _MOST)
    coarse = ((_RPN_MSB, 0), (_RPN_LSB, _COARSE), (_DATA_MSB, 64 + whole), (_DATA_LSB, 0))
    return (
        *(coarse if whole else ()),
        (_RPN_MSB, 0),
        (_RPN_LSB, _FINE),
        (_DATA_MSB, fine >> 7),
        (_DATA_LSB, fine & 0x7F),
        (_RPN_MSB, _NULL),
        (_RPN_LSB, _NULL),
    )
