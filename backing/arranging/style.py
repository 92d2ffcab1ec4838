"""Accompaniment styles: what the left hand plays, in musical terms.

A style is a value: figures, each a list of strokes that say when in the bar, bass or
chord, which degree, how long, how strong.  `style_file.py` reads one from its file.
"""

from collections.abc import Iterable
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from backing.arranging.face import Face
from backing.arranging.places import NOWHERE, Place, Places, possible_places
from backing.errors import Notice, StyleError, did_you_mean
from backing.music.metre import Metre


class When(StrEnum):
    """Which moments a stroke belongs to."""

    BEATS = "beat N"
    EACH = "each beat"
    OTHER = "other beats"
    LAST = "last beat"
    BUT_LAST = "all but the last beat"
    STRONG = "strong beats"
    WEAK = "weak beats"
    CHANGE = "each change"
    SECTION = "each section"


class Hand(StrEnum):
    """Which button the left hand presses."""

    BASS = "bass"
    CHORD = "chord"


class Goal(StrEnum):
    """A bass that is no degree of the chord in force.

    The key's tonic; a step of a run, by the scale, into the next chord's root; the note a
    semitone below that root.
    """

    TONIC = "tonic"
    RUN = "run"
    LEADING = "leading note"


class Tones(StrEnum):
    """Which notes of a chord sound."""

    ALL = "all"
    NO_THIRD = "root and fifth"
    ROOT = "root"


class Until(StrEnum):
    """What the length of a stroke is measured by."""

    NEXT = "next stroke"
    BEATS = "beats"
    BAR_LINE = "until bar line"
    CHANGE = "until change"


class Hold(NamedTuple):
    """How long a stroke sounds: a share of the time to the next one, so many beats, to
    the bar line, or until the harmony changes (or the section ends)."""

    until: Until = Until.NEXT
    amount: Fraction = Fraction(1)


Degree = int | Goal
#: The whole time up to the next stroke.
FULL = Hold()


class Stroke(NamedTuple):
    """One press of a left-hand button.

    `beats` (from 1) belong to `When.BEATS`; `bar` is the bar of the figure (from 1), 0
    for every bar.  `after` is the share of the beat that passes first; None means the
    off-beat: half of a beat that halves, two thirds of one that divides in three.
    `degrees` are taken by turns while the harmony stays.  `strength` is in per cent of
    the full one.  The stroke is played in bars that have all places of `only` and none
    of `never`.
    """

    when: When
    play: Hand
    beats: tuple[int, ...] = ()
    bar: int = 0
    after: Fraction | None = Fraction(0)
    degrees: tuple[Degree, ...] = (1,)
    tones: Tones = Tones.ALL
    hold: Hold = FULL
    strength: int = 100
    only: Places = NOWHERE
    never: Places = NOWHERE

    @property
    def on_tonic(self) -> bool:
        """True for a bass that keeps to the key's tonic, whatever the chord."""
        return self.degrees == (Goal.TONIC,)

    @property
    def on_change(self) -> bool:
        """True where the harmony or the form, not the beat, says when it falls."""
        return self.when in (When.CHANGE, When.SECTION)

    def played_at(self, places: Places) -> bool:
        """True where it is played in a bar of these places."""
        return self.only <= places and self.never.isdisjoint(places)


class Figure(NamedTuple):
    """Strokes for the metres and dances named, at the places named; none named: for any.

    `metres` are as felt; `bars` is how many bars the figure lasts, counted from the start
    of a section.
    """

    strokes: tuple[Stroke, ...]
    metres: tuple[str, ...] = ()
    dances: tuple[str, ...] = ()
    only: Places = NOWHERE
    never: Places = NOWHERE
    bars: int = 1

    def __hash__(self) -> int:
        # That of all strokes takes 12 µs, and what is laid over a bar is looked up by it.
        return hash((len(self.strokes), self.metres, self.dances, self.bars))

    @property
    def for_all(self) -> bool:
        """True where it fits every bar of every tune."""
        return not (self.metres or self.dances or self.only or self.never)

    @property
    def mentioned(self) -> Places:
        """The places that its strokes name."""
        return NOWHERE.union(*(stroke.only | stroke.never for stroke in self.strokes))

    def fits(self, feel: str, dance: str, places: Places) -> bool:
        """True where it is for such a bar, in a metre that feels so."""
        return (
            (not self.metres or feel in self.metres)
            and (not self.dances or dance in self.dances)
            and self.only <= places
            and self.never.isdisjoint(places)
        )


class HandChange(NamedTuple):
    """What a variant changes on every stroke of one hand; None leaves it as it is.

    Degrees change only where the root was played; `strength` is in per cent of its own.
    """

    degrees: tuple[Degree, ...] | None = None
    tones: Tones | None = None
    hold: Hold | None = None
    strength: int = 100

    def applied(self, stroke: Stroke) -> Stroke:
        """The stroke with the change."""
        root = stroke.degrees == (1,)
        return stroke._replace(
            degrees=self.degrees if self.degrees and root else stroke.degrees,
            tones=self.tones or stroke.tones,
            hold=self.hold or stroke.hold,
            strength=max(1, stroke.strength * self.strength // 100),
        )


#: What a style is called in other languages, by their tags.
Titles = tuple[tuple[str, str], ...]


class StyleVariant(NamedTuple):
    """A variant of a style, asked for as "name:variant"."""

    name: str
    use: str = ""
    titles: Titles = ()
    bass: HandChange = HandChange()
    chord: HandChange = HandChange()

    def applied(self, figure: Figure) -> Figure:
        """The figure with the variant's changes."""
        changes = {Hand.BASS: self.bass, Hand.CHORD: self.chord}
        strokes = tuple(changes[stroke.play].applied(stroke) for stroke in figure.strokes)
        return figure._replace(strokes=strokes)


#: For bars that a style has nothing for.
SILENCE = Figure(())


class Style(NamedTuple):
    """An accompaniment style.

    `name` is what players call it by; `use` says in a sentence when to take it; `titles` are
    what it is called in other languages.
    `from_key` means that it plays the key's tonic, not the chord symbols; `thirds` is
    False where its chords leave the third out; `fifths` False where its basses keep to the
    root over long chords.  `second` changes the second time through a section, and each
    later one, phrase ends left out, in figures that do not name it themselves.  Bars that
    none of its figures is for are played by the figures of `fallback`, those of the style that
    `falls_back_on` names; without them they are silent.  `notices` are odd things about how it
    was asked for.
    """

    name: str
    title: str
    use: str
    figures: tuple[Figure, ...]
    from_key: bool = False
    thirds: bool = True
    fifths: bool = True
    second: StyleVariant | None = None
    variants: tuple[StyleVariant, ...] = ()
    fallback: tuple[Figure, ...] = ()
    falls_back_on: str = ""
    notices: tuple[Notice, ...] = ()
    titles: Titles = ()

    def called(self, language: str) -> str:
        """What it is called in a language: its name where it has no title there."""
        return dict(self.titles).get(language, self.name)

    @property
    def for_all(self) -> bool:
        """True where its own figures are for every bar of every tune."""
        return any(figure.for_all for figure in self.figures)

    @property
    def mentioned(self) -> Places:
        """All places that its figures and strokes name."""
        figures = (*self.figures, *self.fallback)
        return NOWHERE.union(*(f.only | f.never | f.mentioned for f in figures))

    def heard_at(self, face: Face) -> Face:
        """The first face at which all is played as at this one: most styles care for little of
        it, and faces that sound alike are made once."""
        named = self.mentioned
        again = self.second is not None or Place.SECOND_TIME in named
        time, last = min(face.time, 2) if again else 1, face.last and Place.TUNE_END in named
        alone = face.alone and (last or (again and time == 1))
        return Face(time, last, alone)

    @property
    def needs_tonic(self) -> bool:
        """True where a stroke keeps to the key's tonic."""
        figures = (*self.figures, *self.fallback)
        return any(stroke.on_tonic for figure in figures for stroke in figure.strokes)

    def figure_for(self, metre: Metre, dance: str = "", places: Places = NOWHERE) -> Figure:
        """The first figure that fits, of its own or else of those that it falls back on; the
        second time as it is played then."""
        feel = metre.feel
        figures = (*self.figures, *self.fallback)
        fitting = (figure for figure in figures if figure.fits(feel, dance, places))
        figure = next(fitting, SILENCE)
        if self.second is None or not _is_second(figure, places):
            return figure
        return _second_time(self.second, figure)

    def lacking(self, metre: Metre, dance: str = "") -> str:
        """The bars of such a metre that its own figures leave out, in words; mostly none."""
        feel = metre.feel
        fits = [
            any(figure.fits(feel, dance, places) for figure in self.figures)
            for places in possible_places()
        ]
        if all(fits):
            return ""
        some = "some bars" if any(fits) else "bars"
        return f"{some} in free metre" if metre.free else f"{some} felt in {metre.feel}"

    def falling_back(self, style: "Style") -> "Style":
        """The style with another one's figures for the bars that it has none for itself."""
        return self._replace(fallback=style.figures, falls_back_on=style.name)

    def variant(self, name: str) -> "Style":
        """The style with one of its variants; StyleError where it has none such."""
        for known in self.variants:
            if known.name == name:
                return self._with(known)
        names = [known.name for known in self.variants]
        raise StyleError(
            f"the style {self.name} has no variant {name!r}",
            did_you_mean(name, names) or ("it has " + ", ".join(names) if names else ""),
        )

    def _with(self, variant: StyleVariant) -> "Style":
        own = dict(variant.titles)
        titles = ((tag, f"{title}, {own.get(tag, variant.name)}") for tag, title in self.titles)
        return self._replace(
            name=f"{self.name}:{variant.name}",
            titles=tuple(titles),
            figures=tuple(variant.applied(figure) for figure in self.figures),
            fallback=tuple(variant.applied(figure) for figure in self.fallback),
        )


@lru_cache(maxsize=256)
def _second_time(variant: StyleVariant, figure: Figure) -> Figure:
    """A figure as it is played the second time: for bar after bar the same."""
    return variant.applied(figure)


def _is_second(figure: Figure, places: Places) -> bool:
    """True in a bar of a second time, no phrase's end, for a figure that does not name it."""
    again = Place.SECOND_TIME in places and Place.PHRASE_END not in places
    return again and Place.SECOND_TIME not in figure.only | figure.never | figure.mentioned


def fallback_notices(style: Style, metres: Iterable[Metre], dance: str = "") -> tuple[Notice, ...]:
    """What to say where a style has no figures for bars of these metres, as they are felt."""
    if style.for_all:
        return ()
    lacking = dict.fromkeys(style.lacking(metre, dance) for metre in dict.fromkeys(metres))
    named = [words for words in lacking if words]
    played = f"{style.falls_back_on} is" if style.fallback else "nothing is"
    said = f"the style {style.name} has no figure for {' and '.join(named)}: {played} played there"
    return (Notice(said),) if named else ()
