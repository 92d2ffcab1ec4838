"""How hard each bar is, and why."""

from pathlib import Path

import pytest

from backing.box.difficulty import Trait
from backing.box.fingering import finger
from backing.box.hardness import BarHardness, hard_reasons, hardness_of, hardness_on, usual_points
from backing.box.line import line_of
from backing.files import load_box, read_tune
from backing.music.saying import said_in
from backing.music.tempo import Tempo
from backing.music.tune import Tune
from backing.parse.abc import parse_abc

DG = load_box("D/G")
EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.abc"))


def tune_of(body: str, key: str = "D", metre: str = "4/4", more: str = "") -> Tune:
    """A tune with this body."""
    return parse_abc(f"X:1\nT:Hard\n{more}M:{metre}\nL:1/8\nK:{key}\n{body}\n")


def by_notes(body: str, **kind: str) -> dict[int, BarHardness]:
    """How hard the bars are by their notes alone, by number."""
    return {bar.number: bar for bar in hardness_of(line_of(tune_of(body, **kind)))}


def words(bar: BarHardness, trait: Trait) -> str:
    """What is said of a kind of difficulty in a bar; "" where there is none."""
    return next((said_in(part.reason) for part in bar.parts if part.trait is trait), "")


def test_steps_at_ease_are_not_hard():
    """Crotchets up and down the scale have no point of anything."""
    bars = by_notes("D2E2F2G2|A2G2F2E2|", more="Q:1/4=90\n")
    assert [bar.points for bar in bars.values()] == [0, 0]


def test_a_bar_of_quicker_notes_is_hard_for_them():
    """What comes on the heels of the note before, more so than most, is told, with how many
    a second: seven semiquavers after the first, and the note after them."""
    bars = by_notes("D2E2F2G2|A2G2F2E2|D/E/F/G/ A/B/c/d/ A2F2|D8|", more="Q:1/4=90\n")
    assert words(bars[3], Trait.FAST) == "eight notes quicker than most, about six a second"
    assert not bars[1].of(Trait.FAST)


@pytest.mark.parametrize(
    ("pair", "said"),
    [
        ("D4 B4", "a leap of a sixth up to B"),
        ("D4 d4", "a leap of an octave up to D"),
        ("f4 D4", "a leap of a tenth down to D"),
        ("D4 A4", ""),
        ("D2d2 D2d2", "three leaps, the widest an octave up to D"),
    ],
)
def test_leaps_are_named_by_their_size(pair, said):
    """More than a fifth is a leap, named by its interval, its way and where it lands; sizes as
    in common music theory."""
    assert words(by_notes(f"{pair}|")[1], Trait.LEAPS) == said


def test_a_leap_counts_in_the_bar_in_which_it_lands():
    """A bar's first note may be leapt to from the bar before."""
    bars = by_notes("d8|D8|D8|")
    assert [bar.of(Trait.LEAPS) > 0 for bar in bars.values()] == [False, True, False]


@pytest.mark.parametrize(
    ("bar", "metre", "said"),
    [
        ("D2 E4 F2", "4/4", "one note held across a beat"),
        ("D E2 F2 G2 A", "4/4", "three notes held across a beat"),
        ("z D E2 F4", "4/4", "one note off the beat after a rest"),
        ("D4 E4", "4/4", ""),
        ("D2 E F2 G", "6/8", ""),
        ("D E2 F G2", "6/8", ""),
        ("D2 E2 F2", "6/8", "one note held across a beat"),
        ("D2 E4", "3/4", ""),
    ],
)
def test_syncopation(bar, metre, said):
    """A note from a weaker place held over a stronger one is syncopated, and one that enters
    off the beat after a rest; a note that ends with its beat is not (common music theory)."""
    found = by_notes(f"{bar}|", metre=metre, more="R:reel\n" if metre == "4/4" else "")
    assert words(found[1], Trait.SYNCOPATION) == said


def test_notes_outside_the_key_are_named():
    """A natural where the key has a sharp is called so; in a minor key the raised leading note
    counts half."""
    major, minor = by_notes("D2 =c2 ^G4|"), by_notes("A4 ^G4|", key="Am")
    assert words(major[1], Trait.ACCIDENTALS) == "C natural and G#, outside the key"
    assert minor[1].of(Trait.ACCIDENTALS) == pytest.approx(major[1].of(Trait.ACCIDENTALS) / 4)
    assert not by_notes("D2 c2 G4|", key="none")[1].of(Trait.ACCIDENTALS)


def test_a_bar_like_another_but_for_one_note():
    """The later of two such bars is a trap, wherever it comes; one that is the same is none."""
    bars = by_notes("D2E2F2G2|A8|D2E2F2A2|D2E2F2G2|D2E2A2d2|D2E2F2A2|")
    likeness = {number: words(bar, Trait.LIKENESS) for number, bar in bars.items()}
    assert likeness == {
        1: "", 2: "", 3: "like bar 1 but for the last note", 4: "", 5: "",
        6: "like bar 1 but for the last note",
    }  # fmt: skip


def test_each_bar_has_what_its_movements_cost():
    """On a box a bar's bellows, rows, hand and stretches are the named costs of its fingering,
    as it is played the first time; nothing that pays makes a bar easier."""
    fingering = finger(line_of(read_tune(EXAMPLES[0]).tune), DG)
    names = {"change-off-beat", "change-on-beat", "change-at-phrase", "flip", "change-on-repeated"}
    for bar in hardness_on(fingering):
        first = next(n for n, b in enumerate(fingering.line.bars) if b.index == bar.index)
        costs = sum(
            max(cost, 0)
            for note, terms in zip(fingering.notes, fingering.priced, strict=True)
            if note.moment.bar == first
            for name, cost in terms
            if name in names
        )
        assert bar.of(Trait.BELLOWS) == pytest.approx(costs)


def test_notes_on_the_box_are_what_they_were():
    """With a box the notes' own difficulties stay as they are; only a leap says whether the
    bellows change on it."""
    line = line_of(tune_of("D2A2 f2D2|d2e2 f2g2|"))
    alone, boxed = hardness_of(line), hardness_on(finger(line, DG))
    for bare, more in zip(alone, boxed, strict=True):
        assert [part.points for part in bare.parts] == [
            part.points for part in more.parts[: len(bare.parts)]
        ]


def test_a_change_under_a_leap_is_told():
    """A leap onto the other direction of the bellows says so."""
    bars = hardness_on(finger(line_of(tune_of("d8|E8|", more="Q:1/4=90\n")), DG))
    assert (
        words(bars[1], Trait.LEAPS) == "a leap of a seventh down to E, on a change of the bellows"
    )


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_quicker_is_never_easier(path):
    """By its notes alone no bar gets easier when the tune is played quicker."""
    tune = read_tune(path).tune
    own = line_of(tune).tempo
    slow, quick = (
        hardness_of(line_of(tune, tempo=Tempo(own.beats * share, own.unit))) for share in (1, 2)
    )
    assert all(s.points <= q.points for s, q in zip(slow, quick, strict=True))


def test_reasons_are_what_a_bar_has_more_than_others():
    """What all bars have alike is no reason; the weightiest comes first."""
    bars = hardness_of(line_of(tune_of("D2E2F2G2|D2d2D2d2|D2E2F2^G2|A8|")))
    usual = usual_points(bars)
    assert [tuple(map(said_in, hard_reasons(bar, usual))) for bar in bars] == [
        (),
        ("three leaps, the widest an octave up to D",),
        ("like bar 1 but for the last note", "G#, outside the key"),
        (),
    ]
