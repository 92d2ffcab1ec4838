"""Tempi and times in words, as the commands say them."""

from backing.arranging.arrange import Manner, own_tempo, tune_dance
from backing.music.dance import dance_of
from backing.music.metre import Metre
from backing.music.played import dance_for
from backing.music.tempo import Tempo, decimal
from backing.music.tune import Tune
from backing.wording import count, with_article


def bars_a_minute(tempo: Tempo, metre: Metre) -> str:
    """How many bars go by in a minute, in words; nothing in free metre."""
    if metre.free:
        return ""
    return f"{decimal(tempo.wholes / metre.length)} bars a minute"


def whose_tempo(tune: Tune, manner: Manner) -> str:
    """Where the tempo comes from that is the tune's own."""
    dance = tune_dance(tune, manner)
    if tune.tempo:
        return "the tune's own"
    if dance and str(tune.metre) in dance.bars:
        return f"usual for {with_article(dance.name)}"
    return "usual in free metre" if tune.metre.free else f"usual in {tune.metre}"


def dance_words(tune: Tune, named: str = "") -> str:
    """The dance that a tune is played as; `named` is what a player names."""
    told = named or tune.dance
    found = dance_for(tune, named)
    if found is None:
        return told or "no dance named"
    unknown = told and dance_of(told, tune.metre) is None
    return f"{told} (as a {found.name})" if unknown else found.name


def per_cent(tempo: Tempo, own: Tempo) -> str:
    """How fast, in per cent of the tune's own tempo.

    >>> from fractions import Fraction
    >>> per_cent(Tempo(Fraction(60), Fraction(1, 4)), Tempo(Fraction(100), Fraction(1, 4)))
    '60 %'
    """
    return f"{decimal(100 * tempo.wholes / own.wholes)} %"


def speed_words(tune: Tune, tempo: Tempo, metre: Metre, manner: Manner) -> str:
    """Tempo with unit, per cent of what, and bars a minute."""
    own = own_tempo(tune, manner)
    whose = whose_tempo(tune, manner)
    if tempo.wholes != own.wholes:
        whose = f"{per_cent(tempo, own)} of {own}, {whose}"
    bars = bars_a_minute(tempo, metre)
    return f"{tempo} ({whose}{'; ' + bars if bars else ''})"


def lasting(seconds: float) -> str:
    """How long something lasts; minutes from two of them on.

    >>> lasting(36.42), lasting(619.3)
    ('36.4 seconds', '10 minutes 19 seconds')
    """
    if seconds < 120:
        return f"{seconds:.1f} seconds"
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} minutes {count(rest, 'second')}"
