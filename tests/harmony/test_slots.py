"""Where chords can stand: the half bars of a melody, and where each is in its section."""

from backing.harmony.slots import slots_of
from backing.parse.abc import parse_abc


def of_bars(body, what):
    """What the first slot of each bar says."""
    tune = parse_abc(f"X:1\nM:4/4\nL:1/4\nK:G\n{body}\n")
    slots = slots_of(tune, [bar.key for bar in tune.bars])
    return [getattr(slot, what) for slot in slots if slot.bar_start]


def test_bars_are_counted_from_both_ends_of_a_section():
    """Each section has its own first and last bar."""
    music = "|:GGGG|AAAA|GGGG::BBBB|cccc:|"
    assert of_bars(music, "bars_in") == [0, 1, 2, 0, 1]
    assert of_bars(music, "bars_left") == [2, 1, 0, 1, 0]


def test_endings_are_counted_as_they_are_played():
    """A bar of a second ending stands where that of the first one does, in a later section as
    in the first; the bars before them count to the end of the first."""
    part = "|:GGGG|AAAA|1GGGG|G4:|2BBBB|B4"
    assert of_bars(f"{part}||", "bars_in") == [0, 1, 2, 3, 2, 3]
    assert of_bars(f"{part}||", "bars_left") == [3, 2, 1, 0, 1, 0]
    assert of_bars(f"{part}{part}||", "bars_in") == [0, 1, 2, 3, 2, 3] * 2
    assert of_bars(f"{part}{part}||", "bars_left") == [3, 2, 1, 0, 1, 0] * 2


def test_bars_after_the_endings_count_to_the_end():
    """What follows the endings in their section belongs to its own end."""
    tune = "|:GGGG|1A4:|2B4|P:B\ncccc|d4|"
    assert of_bars(tune, "bars_left")[-2:] == [1, 0]
