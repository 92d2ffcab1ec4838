"""The making of a backing: a pure function of a tune and what is asked for."""

from fractions import Fraction

import pytest

from backing.arranging.arrange import Manner, arrange
from backing.arranging.arrangement import LEVELS, Role
from backing.errors import PracticeError
from backing.files import StyleShelf, load_box, load_costs, load_style
from backing.harmony.source import ChordSource
from backing.music.tempo import FeltBeats
from backing.parse.abc import parse_abc
from backing.practice.asked import Asked
from backing.practice.backing import make_backing, performance_of, seamless_of
from backing.practice.passages import Bars
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step

JIG = (
    "X:1\nT:The Tin Pail\nR:jig\nM:6/8\nL:1/8\nK:G\n"
    '"G"GAB d2B|"C"e2d "G"dBG|"Am"ABc "D"BAG|"D"AFD "G"G3:|\n'
)
BARE = JIG.replace('"G"', "").replace('"C"', "").replace('"Am"', "").replace('"D"', "")
SHELF = StyleShelf()


def test_it_is_what_its_parts_make():
    """A backing's performance is the arrangement in the style, performed by the plan."""
    tune, plan = parse_abc(JIG), Plan((Step(Bars(2, 3), times=2),))
    backing = make_backing(tune, Asked(plan=plan, style=SHELF["polka"]))
    assert performance_of(backing) == perform(arrange(tune, SHELF["polka"]), plan, tune)


def test_the_usual_style_comes_from_the_shelf():
    """Without a style the one for the dance is taken, by its name, and only that one."""
    asked_names = []

    class Shelf(dict):
        def __getitem__(self, name):
            asked_names.append(name)
            return load_style(name)

    assert make_backing(parse_abc(JIG), Asked(styles=Shelf())).style.name == "jig"
    assert asked_names == ["jig"]


def test_a_tune_without_chords():
    """Chords are found and said; where none are wanted a drone is played, without a word."""
    found = make_backing(parse_abc(BARE), Asked(styles=SHELF))
    assert found.tune.has_chords
    assert any("chords were found for it" in notice.message for notice in found.notices)
    without = make_backing(parse_abc(BARE), Asked(styles=SHELF, chords=ChordSource.NONE))
    assert (without.style.name, without.notices) == ("drone", ())
    told = make_backing(parse_abc(BARE), Asked(styles=SHELF, chords=ChordSource.TUNE))
    assert [notice.message for notice in told.notices] == [
        "the tune gives no chords: a drone on the key note is played"
    ]


def test_a_style_for_a_tune_without_chords():
    """Where a style is named that plays chords, the tonic chord is played, which is said; one
    that plays on the key note says nothing."""

    def said(style):
        asked = Asked(style=SHELF[style], chords=ChordSource.TUNE)
        return [notice.message for notice in make_backing(parse_abc(BARE), asked).notices]

    assert said("jig") == ["the tune gives no chords: its tonic chord is played throughout"]
    assert said("drone") == []


def test_a_style_of_the_key_needs_no_chords():
    """A style that plays the key note's chord has none found for it."""
    backing = make_backing(parse_abc(BARE), Asked(style=SHELF["drone"]))
    assert not backing.tune.has_chords


@pytest.mark.slow
def test_a_box_is_fitted_and_its_gaps_are_told():
    """With a box there is a fit, fingered by the costs that were given, and what is missing
    is among the notices."""
    costs = load_costs("basses-first")
    backing = make_backing(parse_abc(JIG), Asked(styles=SHELF, box=load_box("D/G"), costs=costs))
    assert backing.fit is not None
    assert backing.fit.fingering.costs == costs
    gaps = [notice for notice in backing.notices if notice.message.startswith("left hand: ")]
    assert len(gaps) == len(backing.fit.gaps)
    assert make_backing(parse_abc(JIG), Asked(styles=SHELF)).fit is None


@pytest.mark.parametrize(("beats", "seconds"), [(60, 4), (120, 2)])
def test_felt_beats_are_the_dances(beats, seconds):
    """So many felt beats a minute count dotted crotchets in a jig: two bars have four."""
    step = Step(Bars(1, 2), tempo=FeltBeats(Fraction(beats)), count_in=0)
    backing = make_backing(parse_abc(JIG), Asked(plan=Plan((step,)), styles=SHELF))
    assert performance_of(backing).seconds == seconds


def test_balance_becomes_channel_volume():
    """A quarter of a track's amplitude is half of its channel volume (General MIDI 2: 40
    log10(value / 127) dB); the others keep theirs."""
    backing = make_backing(parse_abc(JIG), Asked(styles=SHELF, balance={Role.CHORDS: Fraction(25)}))
    assert backing.volumes == {**LEVELS, Role.CHORDS: LEVELS[Role.CHORDS] // 2}
    for performance in (performance_of(backing), seamless_of(backing)):
        assert {t.role: t.level for t in performance.tracks}[Role.CHORDS] == 44


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (Asked(manner=Manner(dance="gavotte"), styles=SHELF), "'gavotte' is not a dance"),
        (Asked(balance={Role.CLICK: Fraction(500)}, styles=SHELF), "click at 500 per cent"),
        (Asked(plan=Plan((Step(Bars(7, 9)),)), styles=SHELF), "no bars 7-9"),
        (Asked(plan=Plan((Step(), Step(times=0))), styles=SHELF), "0 times"),
    ],
)
def test_what_cannot_be_had(asked, said):
    """What cannot be had from the tune is refused before anything is arranged."""
    with pytest.raises(PracticeError, match=said):
        make_backing(parse_abc(JIG), asked)


def test_the_dance_that_is_named_goes_along():
    """A dance that the player names is the tune's from then on."""
    tune = parse_abc(JIG.replace("R:jig\n", ""))
    backing = make_backing(tune, Asked(manner=Manner(dance="slide"), styles=SHELF))
    assert backing.tune.dance == "slide"
    assert performance_of(backing).dance == "slide"


HORNPIPE = 'X:1\nT:The Coal Boat\nR:hornpipe\nM:4/4\nL:1/8\nK:G\n"G"GABc dedB|"D"d2A2 F4|]'


def swing_of_first_pair(text=HORNPIPE, manner=None, **step):
    """How uneven the first pair of a tune is, as a text."""
    asked = Asked(Plan((Step(**step),)), styles=SHELF, manner=manner or Manner())
    long, short, *_ = make_backing(parse_abc(text), asked).arrangement.tracks[0].events
    return str(long.length / short.length)


@pytest.mark.parametrize(
    ("tempo", "expected"),
    [
        (Fraction(2, 5), "2"),
        (Fraction(1), "2"),
        (FeltBeats(Fraction(190)), "2"),
        (FeltBeats(Fraction(215)), "7/4"),
        (FeltBeats(Fraction(240)), "3/2"),
        (FeltBeats(Fraction(300)), "3/2"),
        (Fraction(2), "3/2"),
    ],
)
def test_swing_evens_out_where_it_is_quick(tempo, expected):
    """Up to 190 crotchets a minute, however slow, a hornpipe swings 2:1; above it eases to 3:2
    at 240 (common practice, no source; working values)."""
    assert swing_of_first_pair(tempo=tempo) == expected


def test_a_swing_that_is_asked_for_eases_too_but_never_grows():
    """A ratio of the player's or the tune's goes towards 3:2 as well; one below stays."""
    quick = {"tempo": FeltBeats(Fraction(240))}
    assert swing_of_first_pair(manner=Manner(swing=Fraction(3)), **quick) == "3/2"
    assert swing_of_first_pair(manner=Manner(swing=Fraction(5, 4)), **quick) == "5/4"
    assert swing_of_first_pair(manner=Manner(swing=Fraction(1)), **quick) == "1"
    marked = HORNPIPE.replace("K:G", "%%backing:swing 3:1\nK:G")
    assert swing_of_first_pair(marked) == "3"
    assert swing_of_first_pair(marked, **quick) == "3/2"


def test_a_swing_that_eases_still_softens_dotted_pairs():
    """Dotted pairs of a hornpipe take the eased swing too."""
    assert swing_of_first_pair(HORNPIPE.replace("GABc", "G>AB>c"), tempo=Fraction(2)) == "3/2"
