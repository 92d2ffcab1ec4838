"""The fingering: the best of all by an independent count, and what each cost does."""

from collections.abc import Iterator
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from backing.box.costs import PROFILES, parse_costs, profile
from backing.box.fingering import finger, home_rows
from backing.box.layout import Button, Direction, Layout, LeftButton
from backing.box.line import BeatPlace, ChordWish, MelodyLine, Moment, line_of
from backing.box.search import Search
from backing.errors import BoxError
from backing.files import load_box
from backing.music.chord import parse_chord
from backing.music.key import parse_key
from backing.music.metre import parse_metre
from backing.music.pitch import parse_pitch
from backing.music.played import MappedBar
from backing.music.tempo import Tempo
from backing.parse.abc import parse_abc

PUSH, PULL = Direction.PUSH, Direction.PULL


def row(number: int, push: str, pull: str) -> tuple[Button, ...]:
    """A row from the names of its notes, buttons counted from 1."""
    pairs = zip(push.split(), pull.split(), strict=True)
    return tuple(
        Button(number, place, parse_pitch(one).midi, parse_pitch(other).midi)
        for place, (one, other) in enumerate(pairs, 1)
    )


def left(pairs: str) -> tuple[LeftButton, ...]:
    """Bass and chord buttons from pairs like "D/A"."""
    found = []
    for pair in pairs.split():
        push, pull = map(parse_chord, pair.split("/"))
        found.append(LeftButton(pair, "chord", push, pull))
        bass = (push._replace(kind="major"), pull._replace(kind="major"))
        found.append(LeftButton(pair, "bass", *bass))
    return tuple(found)


#: Buttons 2 to 7 of a D/G, counted from 1.
SMALL = Layout(
    "small",
    "a small D/G",
    (
        row(0, "A3 D4 F#4 A4 D5 F#5", "C#4 E4 G4 B4 C#5 E5"),
        row(1, "D4 G4 B4 D5 G5 B5", "F#4 A4 C5 E5 F#5 A5"),
    ),
    left("D/A G/D B/Em C/C"),
)
DG = load_box("D/G")


def tune_line(body: str, head: str = "M:4/4\nL:1/8\nK:D", **how: object) -> MelodyLine:
    """A line from ABC."""
    return line_of(parse_abc(f"X:1\nT:Test\n{head}\n{body}\n"), **how)


def pressed(body: str, name: str = "middle", head: str = "M:4/4\nL:1/8\nK:D") -> str:
    """The buttons of a tune on the D/G: "6<" is the sixth outer on the push, "6'>" the sixth
    inner on the pull."""
    notes = finger(tune_line(body, head), DG, profile(name)).notes
    return " ".join(
        "+".join(
            f"{one.button.number}{chr(39) * one.button.row}{'<' if one.direction is PUSH else '>'}"
            for one in note.presses
        )
        for note in notes
    )


# -- the best of all ----------------------------------------------------------------


def _stops(layout: Layout, pitches: tuple[int, ...]) -> list[tuple[Direction, tuple[Button, ...]]]:
    """Every way to hold these notes: one direction, a button each, at most 4 apart."""
    found = []
    buttons = [button for line in layout.rows for button in line]
    for direction in Direction:
        sets = [[b for b in buttons if b.sounding(direction) == pitch] for pitch in pitches]
        for chosen in product(*sets):
            numbers = [button.number for button in chosen]
            if len(set(chosen)) == len(chosen) and max(numbers) - min(numbers) <= 4:
                found.append((direction, chosen))
    return found


Held = tuple[Direction, tuple[Button, ...], tuple[int, ...], int]


def _fingerings(layout: Layout, moments: list[Moment], before: tuple[Held, ...]) -> Iterator[
    tuple[Held, ...]
]:  # fmt: skip
    """Every fingering of the moments: direction, buttons, pitches, place of the hand."""
    if len(before) == len(moments):
        yield before
        return
    moment = moments[len(before)]
    pitches = tuple(sorted((*moment.pitches, *moment.held)))
    highest = max(button.number for line in layout.rows for button in line)
    last = before[-1] if before else None
    for direction, buttons in _stops(layout, pitches):
        if last is not None and not _goes_on(last, direction, buttons, pitches, moment):
            continue
        numbers = [button.number for button in buttons]
        under = [
            hand
            for hand in range(1, highest - 2)
            if hand <= min(numbers) and max(numbers) <= hand + max(3, max(numbers) - min(numbers))
        ]
        beside = [n for n in (numbers[0] + 1, numbers[0] - 4) if len(buttons) == 1]
        if last is None:
            hands = under
        elif last[3] in under:
            hands = under if moment.phrase or moment.rested else [last[3]]
        elif last[3] in beside:
            hands = [*under, last[3]]
        else:
            hands = under
        for hand in hands:
            yield from _fingerings(layout, moments, (*before, (direction, buttons, pitches, hand)))


def _goes_on(
    last: Held, direction: Direction, buttons: tuple[Button, ...], pitches: tuple[int, ...],
    moment: Moment,
) -> bool:  # fmt: skip
    """Held notes keep button and direction."""
    before = dict(zip(last[2], last[1], strict=True))
    now = dict(zip(pitches, buttons, strict=True))
    return all(
        before[pitch] == now[pitch] and last[0] is direction
        for pitch in moment.held
        if pitch in before
    )


SUBSTITUTES = {
    ("G", PULL): 0.4, ("Bm", PULL): 0.4, ("Am", PULL): 0.4, ("Em", PUSH): 0.4, ("Am", PUSH): 0.4,
    ("Bm", PUSH): 0.4, ("A", PUSH): 1.0, ("F", PUSH): 1.0, ("F", PULL): 1.0, ("D", PUSH): 0.0,
    ("D", PULL): 0.0, ("G", PUSH): 0.0, ("Em", PULL): 0.0, ("A", PULL): 0.0,
}  # fmt: skip


def _weight(wish: ChordWish) -> str:
    """The cost that multiplies a missing chord."""
    if wish.last or wish.first:
        return "missing-at-end" if wish.last else "missing-at-start"
    return {BeatPlace.ONE: "missing-on-one", BeatPlace.BEAT: "missing-on-beat"}.get(
        wish.place, "missing-off-beat"
    )


def _score(moments: list[Moment], way: tuple[Held, ...], home: int, c: dict[str, float]) -> float:
    """The named costs of a whole fingering, summed anew."""
    total, run = 0.0, 0.0
    left_hand = c["left-hand-air"] if any(moment.wishes for moment in moments) else 0.0
    changes = [False]
    for index, (moment, (direction, buttons, pitches, hand)) in enumerate(
        zip(moments, way, strict=True)
    ):
        quick = min(3.0, max(0.3, 180 / max(moment.gap, 1)))
        lead = buttons[pitches.index(max(moment.pitches))]
        numbers = [button.number for button in buttons]
        spread = max(numbers) - min(numbers)
        total += c["off-home-row"] * (lead.row != home)
        total += c["first-button"] * any(
            button.number == 1 and pitch in moment.pitches
            for button, pitch in zip(buttons, pitches, strict=True)
        )
        if len(buttons) > 1:
            total += c["stop-of-four"] if spread == 4 else c["stop-of-three"]
        for wish in moment.wishes:
            share = SUBSTITUTES[str(wish.chord), direction]
            total += c["chord-missing"] * c[_weight(wish)] * share
        if index:
            then, held_buttons, held_pitches, there = way[index - 1]
            old = held_buttons[held_pitches.index(max(moments[index - 1].pitches))]
            changed = then is not direction
            changes.append(changed)
            free = moment.phrase or moment.rested
            if changed:
                run = 0.0
                if free:
                    total += c["change-at-phrase"]
                elif moment.place is BeatPlace.OFF:
                    total += c["change-off-beat"] * quick
                else:
                    total += c["change-on-beat"] * quick
                total += c["flip"] * changes[index - 1]
                total += c["change-on-repeated"] * (
                    max(moment.pitches) == max(moments[index - 1].pitches)
                )
                total += c["change-in-slur"] * moment.slurred
            if old.row != lead.row:
                total += c["cross"] + c["cross-and-change"] * changed
                total += c["cross-on-repeated"] * (
                    max(moment.pitches) == max(moments[index - 1].pitches)
                )
                total += c["slide"] * quick * (old.number == lead.number)
            if there != hand:
                times = 1.0
                if moment.rested:
                    times = c["shift-at-rest"]
                elif moment.gap < c["run-ms"]:
                    times = c["shift-in-run"]
                total += times * (c["shift"] + c["shift-a-button"] * abs(there - hand))
            if len(buttons) == 1 and not hand <= lead.number <= hand + 3:
                total += c["hop"] * quick
        used = moment.seconds * (len(buttons) + left_hand) / c["travel-seconds"]
        beats = moment.seconds / moment.beat
        total += _air(run + used, c) * beats / used - _air(run, c) * beats / used
        run += used
    return total


def _air(run: float, c: dict[str, float]) -> float:
    """What a run costs up to so much air, were a beat as long as the travel."""
    return (
        c["air-to-three-quarters"] * min(max(run - 0.5, 0), 0.25)
        + c["air-beyond"] * min(max(run - 0.75, 0), 0.25)
        + c["air-past-end"] * max(run - 1, 0)
    )


NAMES = ("A3", "C#4", "D4", "E4", "F#4", "G4", "A4", "B4", "C5", "C#5", "D5", "E5", "F#5", "G5")
SCALE = [parse_pitch(name).midi for name in NAMES]
#: Those that go both ways: runs of them can be long, so that air counts.
BOTH_WAYS = [parse_pitch(name).midi for name in ("F#4", "G4", "A4", "B4", "F#5", "G5")]
CHORDS = [parse_chord(name) for name in ("D", "G", "A", "Em", "Bm", "Am", "F")]


@st.composite
def phrases(draw: st.DrawFn) -> list[Moment]:
    """Up to seven moments: single notes and stops, some held on, rests, slurs, chords."""
    moments: list[Moment] = []
    onset, gap = Fraction(0), 0.0
    chorded = draw(st.booleans())
    scale = draw(st.sampled_from([SCALE, BOTH_WAYS]))
    free = draw(st.sets(st.integers(0, 6), max_size=2))
    for index in range(draw(st.integers(1, 7))):
        lowest, *others = sorted(draw(st.lists(st.sampled_from(scale), min_size=1, max_size=2,
                                                unique=True) if draw(st.integers(0, 3)) == 0
                                       else st.lists(st.sampled_from(scale), min_size=1,
                                                     max_size=1)))  # fmt: skip
        pitches = (lowest, *others)
        rested = index in free and draw(st.booleans())
        held: tuple[int, ...] = ()
        if moments and not rested and len(pitches) == 1 and draw(st.integers(0, 5)) == 0:
            held = tuple(pitch for pitch in moments[-1].pitches if pitch not in pitches)[:1]
        seconds = draw(st.sampled_from([0.05, 0.12, 0.18, 0.4, 1.1]))
        place = draw(st.sampled_from(BeatPlace))
        wishes = (
            (
                ChordWish(
                    draw(st.sampled_from(CHORDS)),
                    place,
                    last=draw(st.integers(0, 5)) == 0,
                    first=draw(st.integers(0, 5)) == 0,
                ),
            )
            if chorded
            else ()
        )
        moments.append(
            Moment(onset, Fraction(1, 8), pitches, held, 0, index, place,
                   index in free and not rested, rested, draw(st.booleans()), False, gap,
                   seconds, 0.5, wishes)
        )  # fmt: skip
        onset += Fraction(1, 8)
        gap = 1000 * seconds
    return moments


def made_line(moments: list[Moment]) -> MelodyLine:
    """A line of one bar."""
    bar = MappedBar(
        0, 1, "A", 1, None, Fraction(0), Fraction(7, 8), parse_metre("7/8"), parse_key("D")
    )
    return MelodyLine(
        "made", parse_key("D"), Tempo(Fraction(90), Fraction(1, 4)), (bar,), tuple(moments)
    )


@pytest.mark.slow
@settings(max_examples=300, deadline=None)
@given(phrases(), st.sampled_from(PROFILES), st.sampled_from(["20", "6", "3", "1.5"]))
def test_no_fingering_is_cheaper(moments, name, travel):
    """Of all fingerings of a phrase of up to seven notes the one found costs least (every one
    is tried and its named costs summed by other code)."""
    assume(all(_stops(SMALL, tuple(sorted((*m.pitches, *m.held)))) for m in moments))
    costs = parse_costs(f'profile = "{name}"\ntravel-seconds = {travel}')
    found = finger(made_line(moments), SMALL, costs)
    best = None
    for tried, way in enumerate(_fingerings(SMALL, moments, ())):
        assume(tried < 20_000)
        score = _score(moments, way, found.homes[0], costs.table())
        best = score if best is None else min(best, score)
    assume(best is not None)
    assert found.cost == pytest.approx(best, abs=1e-9)


# -- what the costs do ----------------------------------------------------------------


def terms(body: str, name: str = "middle", head: str = "M:4/4\nL:1/8\nK:D") -> dict[str, float]:
    """The named costs of a tune on the D/G."""
    return finger(tune_line(body, head), DG, profile(name)).terms


def test_repeated_notes_keep_the_bellows():
    """Repeated notes are struck on one button: change finger rather than bellows (common
    practice, no source)."""
    assert len(set(pressed("A2AA A2AA|A8|").split())) == 1


def test_a_repeated_note_stays_on_its_button_where_the_row_changes_after_it():
    """A note of both rows that is struck twice before the tune goes to the inner row is struck
    on one button both times (common practice, no source)."""
    buttons = pressed("dcBA GFED|D4 D4|G2B2 d2B2|", head="M:4/4\nL:1/8\nK:G").split()
    assert buttons[8] == buttons[9]


@pytest.mark.parametrize(("key", "row"), [("D", 0), ("G", 1), ("Em", 1), ("A", 0)])
def test_of_two_rows_that_have_as_much_the_keys_own_is_home(key, row):
    """A part that both rows have whole is at home in the row of its key, else in the outer one
    (working value, no source)."""
    assert home_rows(tune_line("e2d2 B2A2|", f"M:4/4\nL:1/8\nK:{key}"), DG) == {"A": row}


def test_a_slur_is_not_split_where_it_can_be_held():
    """A slurred pair that has a common direction is played in one (common practice, no
    source)."""
    slurred = finger(tune_line("(fg)(fg) (fg)(fg)|"), DG).notes
    assert not any(note.changed for note in slurred[1::2])


def test_a_tie_is_one_press():
    """Tied notes are struck once and sound as long as both."""
    line = tune_line("A4 d4-|d4 A4|")
    assert [(m.pitches, m.length) for m in line.moments] == [
        ((69,), Fraction(1, 2)), ((74,), Fraction(1)), ((69,), Fraction(1, 2))
    ]  # fmt: skip


def test_a_note_held_under_others_keeps_its_button_and_the_bellows():
    """Where one note of a stop is tied on, its button and direction stay."""
    line = tune_line("[G-B]4 [Gd]4|", "M:4/4\nL:1/8\nK:G")
    first, second = finger(line, DG).notes
    assert second.moment.held == (67,)
    assert second.direction is first.direction is PUSH


def test_a_held_note_keeps_the_bellows_though_both_notes_would_be_easier_the_other_way():
    """A tied note cannot sound through a change of the bellows: A and F sharp, both at hand on
    the pull, are pushed where the A is held under a B that is only there on the push."""
    first, second, _ = finger(tune_line("[a-f]4 [ab]4|G8|", "M:4/4\nL:1/8\nK:G"), DG).notes
    assert second.moment.held == (81,)
    assert second.direction is first.direction is PUSH


def test_a_note_that_the_box_lacks_keeps_the_direction_before_it():
    """A melody note that the box lacks is reported, and the bellows go on as they did."""
    notes = finger(tune_line("A2^A,2 e2A2|"), DG).notes
    assert [note.missing for note in notes] == [(), (58,), (), ()]
    assert notes[1].direction is notes[0].direction
    assert not notes[1].presses


def test_a_tune_of_missing_notes_has_an_empty_fingering():
    """Where the box has no note of a tune there is nothing to press and nothing to pay."""
    found = finger(tune_line("_A,_A,_A,_A,|"), DG)
    assert found.cost == found.reversals == 0
    assert all(note.missing for note in found.notes)


def test_a_stop_too_wide_for_the_hand_keeps_its_highest_note():
    """Of a double stop wider than four buttons the lowest note is left out, and reported."""
    note = finger(tune_line("[A,a]8|"), DG).notes[0]
    assert [press.midi for press in note.presses] == [81]
    assert note.missing == (57,)


def test_octaves_on_a_row_lie_three_buttons_apart_on_the_push_and_four_on_the_pull():
    """An octave spreads to three buttons on the push, four on the pull: push notes repeat
    every three buttons, pull notes every four (the rule of the rows)."""
    row_in_d = load_box("D")
    push, pull = (finger(tune_line(body), row_in_d) for body in ("[Dd]8|", "[Ee]8|"))
    assert [press.button.number for press in push.notes[0].presses] == [3, 6]
    assert push.terms == {"stop-of-three": 0.2}
    assert [press.button.number for press in pull.notes[0].presses] == [3, 7]
    assert pull.terms == {"stop-of-four": 0.8}


@pytest.mark.parametrize(
    ("body", "name", "cost"),
    [
        ("d2c2 d4|", "change-off-beat", 0.0),
        ("d2c2 d4|", "change-on-beat", 2 * 0.6 * 0.348),
        ("dcd2 z4|", "change-off-beat", 0.695),
        ("d2z2 c4|", "change-at-phrase", 0.0),
        ("dcd2 z4|", "flip", 0.5),
    ],
)
def test_changes_cost_by_their_place_and_pace(body, name, cost):
    """A change costs 1.0 off the beat, 0.6 on a felt beat, nothing after a rest, by the pace:
    180 ms over the time between the notes (working values, no source)."""
    found = terms(body, head="M:4/4\nL:1/8\nQ:1/4=116\nK:D")
    assert found.get(name, 0.0) == pytest.approx(cost, abs=0.01)


def test_along_the_row_stays_and_cross_row_crosses():
    """Along the row there are fewer crossings and more changes than across the rows (common
    practice, no source)."""
    body = "dfed BAFA|GBdB AFDF|EGFE DFAd|fgfe d4|"
    stay, cross = (
        finger(tune_line(body), DG, profile(name)) for name in ("along-the-row", "cross-row")
    )
    assert stay.crossings < cross.crossings
    assert stay.reversals > cross.reversals


def test_basses_first_gives_way_to_the_chord():
    """With the basses first notes that go both ways go where their chord is (D/G: G push, A and
    Em pull)."""
    notes = finger(tune_line('"G"B8|"A"A8|"G"B8|"Em"G8|'), DG, profile("basses-first")).notes
    assert [note.direction for note in notes] == [PUSH, PULL, PUSH, PULL]


def test_a_part_begins_with_its_chord_though_the_other_way_has_one_that_stands_for_it():
    """A part in G that leads to a B flat, which is on a pull alone, begins on the push, where
    the G chord is, and does not pull an Em from the start."""
    line = tune_line('"G"gge ^AB=c|"G"B2A G3|', "M:6/8\nL:1/8\nK:G")
    costs = profile(), parse_costs("missing-at-start = 1")
    starts = [finger(line, DG, one).notes[0].direction for one in costs]
    assert starts == [Direction.PUSH, Direction.PULL]


def test_the_first_bar_line_of_each_part_is_marked_and_no_pickup():
    """A part's first chord is that at its first bar line, each time through; a pickup has none."""
    line = tune_line('|:"D"A2|"D"d2f2 "G"g4|"A"e8|"D"d6:|:"G"B2|"G"g4 "D"d4|"A"e8|"D"d6:|')
    marked = [(line.bars[m.bar].number, m.onset) for m in line.moments if m.wishes
              and m.wishes[0].first]  # fmt: skip
    assert [number for number, _ in marked] == [1, 1, 4, 4]
    assert [line.bars[0].pickup, marked[0][1]] == [True, 0]


def test_accidental_buttons_make_no_row_home():
    """A part in G with more B flats (on a button of the D row, and none of the D scale) than
    C naturals is at home in the G row."""
    line = tune_line("G2B_B B2_B2|=c2A2 G4|", "M:4/4\nL:1/8\nK:G")
    assert home_rows(line, DG) == {"A": 1}


def test_the_same_bar_gets_the_same_buttons():
    """Each time through a bar is fingered alike (common practice, no source)."""
    found = finger(tune_line("|:dfed BAFA|Bcde fdAF:|:gfed cAce|d2A2 F2A2:|"), DG)
    seen: dict[tuple[int, int], object] = {}
    for note in found.notes:
        place = (found.line.bars[note.moment.bar].index, note.moment.note)
        assert seen.setdefault(place, note.presses) == note.presses


def test_a_part_that_would_be_fingered_in_two_ways_takes_the_cheaper_for_both():
    """Where times through would differ, one of them serves for all, and no other of them is
    cheaper."""
    line = tune_line("|:cFGcgAef|afDDfAac:|")
    search = Search(DG, profile("cross-row").table())
    stands = [search.stand(moment, 0) for moment in line.moments]
    free = search.best(line.moments, stands)
    half = len(line.moments) // 2
    assert [way.grip for way in free.ways[:half]] != [way.grip for way in free.ways[half:]]
    found = finger(line, DG, profile("cross-row"))
    assert [note.presses for note in found.notes[:half]] == [
        note.presses for note in found.notes[half:]
    ]
    assert found.cost >= free.cost - 1e-9


def test_a_fingering_is_always_the_same():
    """The same tune is fingered alike whenever it is asked for."""
    body = "dfed BAFA|Bcde fdAF|gfed cAce|d2A2 F2A2|"
    assert pressed(body) == pressed(body)


def test_directions_hold_from_onset_to_the_change_and_rests_are_free():
    """Stretches of direction are half-open; in rests the bellows are free."""
    found = finger(tune_line("d2f2 z2e2|"), DG)
    assert [(span.start, span.stop, span.direction) for span in found.spans] == [
        (Fraction(0), Fraction(1, 2), PUSH),
        (Fraction(3, 4), Fraction(1), PULL),
    ]
    asked = (Fraction(0), Fraction(1, 4), Fraction(1, 2), Fraction(3, 4), Fraction(1))
    assert [found.direction_at(at) for at in asked] == [PUSH, PUSH, None, PULL, None]


def test_a_long_run_is_broken_for_air():
    """A run that would take more than the whole travel is broken where it can be: past the
    end there is no air (working value, no source)."""
    line = tune_line("F8|A8|" * 6, "M:4/4\nL:1/8\nQ:1/4=40\nK:D")
    assert finger(line, DG).reversals > 0
    assert finger(line, DG, parse_costs("travel-seconds = 1000")).reversals == 0


@pytest.mark.parametrize(("section", "home"), [("A", 0), ("B", 1)])
def test_each_part_has_its_home_row(section, home):
    """A part with C sharps is at home on the D row of a D/G, one with C naturals on the G row."""
    line = tune_line("|:d2c2 B2A2|d8:|:d2=c2 B2A2|G8:|")
    assert home_rows(line, DG)[section] == home


# -- a player's own costs ---------------------------------------------------------------


def test_costs_start_from_a_profile():
    """A file of costs changes those that it names and keeps the rest of its profile."""
    costs = parse_costs('profile = "cross-row"\ncross = 0.9', "mine.toml")
    assert costs["cross"] == 0.9
    assert costs["change-on-beat"] == 1.6
    assert costs.name == "mine.toml"


def test_faults_of_costs_are_told_at_once():
    """Every fault of a file of costs is named, with the nearest name."""
    with pytest.raises(BoxError) as raised:
        parse_costs('profile = "cross-rows"\ncros = 1\nflip = "high"\nhop = -1\ntravel-seconds = 0')
    assert raised.value.faults == (
        "line 1, profile: unknown: 'cross-rows'; did you mean cross-row?",
        "line 2, cros: unknown key; did you mean cross?",
        "line 3, flip: expected a number from 0 to 1000, got 'high'",
        "line 4, hop: expected a number from 0 to 1000, got -1",
        "line 5, travel-seconds: expected a number above 0",
    )


@pytest.mark.parametrize("text", ["cross = nan", "cross = ", "cross = 1e999999999", "cross = inf"])
def test_costs_that_are_no_numbers_are_refused(text):
    """What is no finite number is refused with a message."""
    with pytest.raises(BoxError):
        parse_costs(text)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("cross = nan", "line 1, cross: expected a number from 0 to 1000, got nan"),
        ("\ncross = 1e99999", "line 2, cross: expected a number from 0 to 1000, got 1e99999"),
        ("cross = -inf", "line 1, cross: expected a number from 0 to 1000, got -inf"),
        ("change-at-phrase = -1001",
         "line 1, change-at-phrase: expected a number from -1000 to 1000, got -1001"),
        ("cross = true", "line 1, cross: expected a number from 0 to 1000, got true"),
    ],
)  # fmt: skip
def test_a_cost_out_of_range_is_named_as_it_is_written(text, said):
    """A cost that is no finite number of the range is shown as the file has it."""
    with pytest.raises(BoxError) as raised:
        parse_costs(text)
    assert raised.value.faults == (said,)


def test_a_cost_is_the_number_that_is_written():
    """A decimal of a file is the nearest number, with or without an exponent."""
    costs = parse_costs("cross = 0.1\nhop = 2.5e-1\nflip = 3")
    assert (costs["cross"], costs["hop"], costs["flip"]) == (0.1, 0.25, 3.0)


def test_the_old_name_of_the_middle_profile_is_read_and_said():
    """`balance` is `middle` now, asked for or in a file, and that is said with its place."""
    assert profile("balance") == profile("middle")
    (asked,) = profile("balance").notices
    assert asked.text() == ("warning: the profile balance is called middle now\nhint: write middle")
    costs = parse_costs('# mine\nprofile = "balance"\ncross = 0.9', "mine.toml")
    assert costs["hop"] == profile("middle")["hop"]
    (written,) = costs.notices
    assert written.message == "mine.toml, line 2: the profile balance is called middle now"
    assert profile().notices == parse_costs("cross = 1").notices == ()


def test_an_unknown_profile_is_named_with_the_nearest():
    """A mistyped profile gets a suggestion."""
    with pytest.raises(BoxError) as raised:
        profile("along-row")
    assert raised.value.hint == "did you mean along-the-row?"
