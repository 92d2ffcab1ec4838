"""What was typed, read into the one value that a backing is made from; the tune, read and made."""

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from backing.arranging.arrange import Manner
from backing.cli import typed
from backing.cli.printing import say_notices, say_reading
from backing.cli.wish import Wish
from backing.errors import UsageError
from backing.files import Reading, StyleShelf, load_style, read_tune
from backing.music.transpose import interval_to_key, move_tune
from backing.music.tune import Tune
from backing.practice.asked import Asked
from backing.practice.backing import Backing, make_backing
from backing.practice.passages import Passage, Whole
from backing.practice.plan import Close, LeadIn, Plan, Step
from backing.render.tuning import A4, TREMOLO, check_a4, check_tremolo
from backing.wording import listed

if TYPE_CHECKING:
    from backing.box.costs import Costs
    from backing.box.layout import Layout

TREMOLO_IDLE = "--tremolo changes nothing here: it is for the built-in reeds"


def _box(wish: Wish) -> "tuple[Layout | None, Costs | None]":
    """The box and the costs of fingering that were asked for."""
    if not wish.box:
        return None, None
    from backing.files.boxes import load_box, load_costs

    return load_box(wish.box), load_costs(wish.profile) if wish.profile else None


def span_of(wish: Wish) -> Passage:
    """What is to be played.  Raises UsageError where it cannot be understood."""
    return typed.span(wish.bars, wish.part, wish.ending, wish.join)


def step_of(wish: Wish) -> Step:
    """The step that was typed.  Raises UsageError where something cannot be understood."""
    times, each = typed.how_often(wish.times) if wish.times else (None, 0)
    span = span_of(wish)
    if each and not isinstance(span, Whole):
        raise UsageError(
            f"--times {wish.times} is for the whole tune", "leave --bars and --part out"
        )
    if wish.once_to_yourself and not isinstance(span, Whole):
        raise UsageError("--once-to-yourself is for the whole tune", "leave --bars and --part out")
    ladder = _ladder(wish)
    return Step(
        span=span,
        tempo=ladder[0] if ladder else typed.speed(wish.tempo, wish.percent),
        times=times,
        muted=typed.tracks(wish.mute or ()),
        count_in=typed.whole_number(wish.count_in, "--count-in", "2") if wish.count_in else None,
        echo=wish.echo,
        gap=typed.whole_number(wish.gap, "--gap", "1") if wish.gap else 0,
        whole_pickup=wish.pickup,
        lead_in=wish.lead_in or LeadIn.CLICKS,
        close=wish.close or Close.STOP,
        each=each,
        click=wish.click,
        ladder=ladder,
        every=typed.whole_number(wish.every, "--every", "2") if wish.every else 1,
        grow=wish.grow,
        less_help=wish.less_help,
        hands=wish.left_hand_stages,
        edges=wish.edges,
        ears=wish.ears,
    )


def _ladder(wish: Wish) -> tuple[Fraction, ...]:
    """The tempi of a ladder; none where none was typed."""
    if typed.is_ladder(wish.percent):
        if wish.tempo:
            raise UsageError(
                "--tempo and --percent both say how fast", "give one of them, not both"
            )
        return typed.ladder(wish.percent, wish.step, beyond=wish.beyond, down=wish.down)
    if wish.step or wish.beyond or wish.down:
        raise UsageError(
            "--step, --beyond and --down are for a ladder of tempi", "say --percent 50..100 too"
        )
    return ()


def asked_for(wish: Wish) -> Asked:
    """What was typed, as one value; styles, box and costs are loaded.

    Raises BackingError where something cannot be understood or loaded.
    """
    if wish.profile and not wish.box:
        raise UsageError("--profile says how a box is fingered", "name it too: --box D/G")
    step = step_of(wish)
    if wish.changes and not wish.then:
        raise UsageError("--changes are those of a set", "say which tune follows: --then FILE")
    box, costs = _box(wish)
    return Asked(
        plan=Plan((step,)),
        style=typed.styles(wish.style, load_style) if wish.style else None,
        styles=StyleShelf(),
        manner=Manner(
            swing=typed.swing(wish.swing),
            thirds=not wish.no_thirds,
            ornaments=not wish.plain,
            dance=wish.dance,
            full_chords=wish.full_chords,
        ),
        chords=wish.chords,
        box=box,
        costs=costs,
        balance=typed.balance(wish.balance),
        once_to_yourself=wish.once_to_yourself,
    )


def a4_of(wish: Wish) -> float:
    """The tuning that was asked for, in hertz."""
    a4 = typed.decimal_number(wish.a4, "--a4", "442") if wish.a4 else A4
    check_a4(a4)
    return a4


def tremolo_of(wish: Wish) -> float:
    """How far apart the melody's reeds are, in cents."""
    cents = typed.decimal_number(wish.tremolo, "--tremolo", "8") if wish.tremolo else TREMOLO
    check_tremolo(cents)
    return cents


def build(path: Path, wish: Wish) -> tuple[Reading, Backing]:
    """Read a tune and make its backing; what is odd about either is said.

    Raises BackingError where something asked for cannot be had.
    """
    asked = asked_for(wish)
    reading = read_asked(path, wish)
    backing = make_backing(reading.tune, asked)
    say_reading(reading)
    say_notices(backing.notices)
    return reading, backing


def read_asked(path: Path, wish: Wish) -> Reading:
    """The tune that was asked for, in the key that was asked for.

    Raises BackingError where it cannot be had.
    """
    told = typed.played_as(wish.metre, wish.beat)
    reading = read_tune(path, wish.number, voice=wish.voice, told=told)
    return reading._replace(tune=in_key(reading.tune, wish.key))


def in_key(tune: Tune, text: str) -> Tune:
    """The tune in the key that was typed, in the nearest octave; as it is where none was.

    Raises UsageError for what is no key, TuneError where it cannot be moved there.
    """
    if not text:
        return tune
    wanted = typed.key(text, "--key")
    return move_tune(tune, interval_to_key(tune.key, wanted))


def hand_words(backing: Backing, wish: Wish) -> str:
    """What the left hand does: "jig, playable on D/G"."""
    names = listed([style.name for style in backing.styles.all])
    return f"{names}, {'playable on ' + wish.box if wish.box else 'band backing'}"
