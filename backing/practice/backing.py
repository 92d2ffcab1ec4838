"""The making of a backing: from a tune and what a player asks for to all that sounds."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from backing.arranging.arrange import Manner, arrange_faces, own_tempo, tune_dance
from backing.arranging.arrangement import Arrangement, Role
from backing.arranging.faces import Faces, StyleTurns
from backing.arranging.style import Style, fallback_notices
from backing.arranging.usual import usual_style
from backing.errors import Notice, PracticeError
from backing.harmony.source import ChordSource, with_chords_from
from backing.music.dance_found import about_dance
from backing.music.swing import eased, swing_of, swing_unit
from backing.music.tune import Tune
from backing.practice.asked import Asked
from backing.practice.balance import channel_volumes
from backing.practice.devices import with_times
from backing.practice.passages import OneSection, find_bars
from backing.practice.performance import Performance, balanced, perform, perform_seamless
from backing.practice.plan import Plan, check_plan, with_first_part

if TYPE_CHECKING:
    from backing.box.fit import Fit
    from backing.practice.on_box import OnBox

#: What is played where a tune has no chords and none are wanted.
_WITHOUT_CHORDS = "drone"


class Backing(NamedTuple):
    """A tune arranged as it was asked for, and what is to be practised of it.

    `tune` has the chords and the dance that are played; `faces` are its arrangements for each
    time through; `fit` is how it lies on the box, None
    without one; `volumes` are the channel volumes of every track.  `notices` are what there
    is to say of the making, the tune's own left out.
    """

    tune: Tune
    styles: StyleTurns
    manner: Manner
    faces: Faces
    fit: "Fit | None"
    plan: Plan
    volumes: Mapping[Role, int]
    notices: tuple[Notice, ...]

    @property
    def style(self) -> Style:
        """The style that it begins with."""
        return self.styles.first

    @property
    def arrangement(self) -> Arrangement:
        """The tune as it is played once."""
        return self.faces()


def make_backing(tune: Tune, asked: Asked, *, fitted: "Fit | None" = None) -> Backing:
    """A tune with its left hand, as it was asked for.

    `fitted` is the fit of another backing that differs in its style alone: its notes lie on the
    same buttons.  Raises BackingError where something asked for cannot be had from this tune.
    """
    manner, told = asked.manner, asked.manner.dance
    dance = tune_dance(tune, manner)
    if manner.dance and dance is None:
        raise PracticeError(
            f"{manner.dance!r} is not a dance that is known here", "try reel, jig, waltz"
        )
    if dance:  # it is found once: a search takes as long as the arranging
        manner = manner._replace(dance=dance.name)
    plan = with_first_part(asked.plan, tune) if asked.once_to_yourself else asked.plan
    check_plan(plan, (tune,))
    plan = with_times(plan, (tune,))
    volumes = channel_volumes(asked.balance)
    source = asked.chords
    wanted = _turns(asked.style)
    if source is None and wanted.all and all(style.from_key for style in wanted.all):
        source = ChordSource.TUNE
    chorded, said = with_chords_from(tune, source, asked.box.all_chords if asked.box else ())
    for name in wanted.parts:
        find_bars(chorded, OneSection(name))
    if not wanted.styles:
        usual = _on_shelf(asked.styles, _usual(chorded, manner))
        wanted = wanted._replace(styles=(usual,))
    asked = asked._replace(manner=_with_eased_swing(chorded, manner, plan))
    found = _on_box(chorded, wanted.first, asked, fitted)
    faces = arrange_faces(chorded, wanted, asked.manner, side=found.side if found else None)
    arrangement = faces()
    notices = (
        *about_dance(tune, told),
        *(asked.costs.notices if asked.costs else ()),
        *said,
        *(notice for style in wanted.all for notice in style.notices),
        *(
            notice
            for style in wanted.all
            for notice in _about_metres(style, chorded, manner, arrangement)
        ),
        *_about_box(found),
        *_about_chords(chorded, wanted, asked),
        *_about_swing(tune, manner, arrangement),
    )
    return Backing(
        replace(chorded, dance=told or chorded.dance or manner.dance),
        wanted,
        manner,
        faces,
        found.fit if found else None,
        plan,
        volumes,
        notices,
    )


def without_thirds(backing: Backing) -> Backing:
    """The same backing, with the third left out of every chord."""
    manner = backing.manner._replace(thirds=False)
    return backing._replace(manner=manner, faces=backing.faces.without_thirds())


def performance_of(backing: Backing) -> Performance:
    """The whole practice laid end to end, at its volumes.

    Raises PracticeError where it cannot be played so slowly or so fast.
    """
    return balanced(perform(backing.faces, backing.plan, backing.tune), backing.volumes)


def seamless_of(backing: Backing) -> Performance:
    """The first step as a loop without a seam, at its volumes.

    Raises PracticeError where it cannot be played so slowly, so fast or so often.
    """
    performance = perform_seamless(backing.faces, backing.plan.steps[0], backing.tune)
    return balanced(performance, backing.volumes)


def _with_eased_swing(tune: Tune, manner: Manner, plan: Plan) -> Manner:
    """The manner with the swing that suits the speed of the first step."""
    ratio = swing_of(tune_dance(tune, manner), manner.swing or tune.swing).ratio
    unit = swing_unit(tune.metre)
    if ratio is None or unit is None:
        return manner
    own, wanted = own_tempo(tune, manner), plan.steps[0].tempo
    tempo = own.scaled(wanted) if isinstance(wanted, Fraction) else wanted.in_unit(own.unit)
    swing = eased(ratio, tempo.wholes / unit)
    return manner if swing == ratio else manner._replace(swing=swing)


def _turns(style: Style | StyleTurns | None) -> StyleTurns:
    """What is asked for, as styles for the times through; none where nothing is."""
    if isinstance(style, StyleTurns):
        return style
    return StyleTurns((style,) if style else ())


def _usual(tune: Tune, manner: Manner) -> str:
    """The name of the style where none was asked for."""
    if not tune.has_chords:
        return _WITHOUT_CHORDS
    dance = tune_dance(tune, manner)
    return usual_style(dance.name if dance else "", tune.metre)


def _on_shelf(styles: Mapping[str, Style], name: str) -> Style:
    """The style of this name.  Raises PracticeError where there is none to take."""
    try:
        return styles[name]
    except KeyError:
        raise PracticeError(
            f"no style is asked for, and {name!r} is not among those to choose from",
            "give a style, or all of them (styles=backing.StyleShelf())",
        ) from None


def _on_box(tune: Tune, style: Style, asked: Asked, fitted: "Fit | None") -> "OnBox | None":
    if asked.box is None:
        return None
    from backing.practice.on_box import on_box

    return on_box(tune, style, asked.manner, asked.box, asked.costs, fitted=fitted)


def _about_metres(
    style: Style, tune: Tune, manner: Manner, arrangement: Arrangement
) -> tuple[Notice, ...]:
    """Metres that the style leaves to another."""
    dance = tune_dance(tune, manner)
    metres = (bar.metre for bar in arrangement.bars)
    return fallback_notices(style, metres, dance.name if dance else "")


def _about_box(found: "OnBox | None") -> Iterator[Notice]:
    """What the box lacks."""
    if found is None:
        return
    from backing.box.words import gaps_in_words, sits

    if not found.fit.fits:
        yield Notice(sits(found.fit), "backing fit says what helps")
    for text in gaps_in_words(found.fit):
        yield Notice(f"left hand: {text}")


def _about_chords(tune: Tune, turns: StyleTurns, asked: Asked) -> Iterator[Notice]:
    if tune.has_chords or asked.chords is ChordSource.NONE:
        return
    if asked.style is None:
        yield Notice(
            "the tune gives no chords: a drone on the key note is played",
            "write chord symbols into the tune, or choose with --style",
        )
    elif not all(style.from_key for style in turns.all):
        yield Notice(
            "the tune gives no chords: its tonic chord is played throughout",
            "write chord symbols into the tune",
        )


def _about_swing(tune: Tune, manner: Manner, arrangement: Arrangement) -> Iterator[Notice]:
    if manner.swing and not any(swing_unit(bar.metre) for bar in arrangement.bars):
        yield Notice(f"swing changes nothing here: in {tune.metre} no pairs are swung")
