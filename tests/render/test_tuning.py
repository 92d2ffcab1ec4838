"""Other tunings than 440 Hz, as channel tuning in MIDI (MIDI 1.0, RPN 1 and 2)."""

import pytest

from backing.arranging.arrangement import Role
from backing.errors import PracticeError
from backing.parse.midi import parse_midi
from backing.render.midi import render_midi
from backing.render.tuning import cents_of, tuning_controls

#: A in Hz; cents from 440; 14 bits of RPN 1, channel fine tuning, where 2000h is in tune and a
#: step is 100/8192 cent (MIDI 1.0, registered parameter numbers).
TABLE = [
    (432, -31.767, 5590, 43, 86),
    (438, -7.887, 7546, 58, 122),
    (441, 3.930, 8514, 66, 66),
    (442, 7.851, 8835, 69, 3),
    (443, 11.764, 9156, 71, 68),
    (445, 19.562, 9795, 76, 67),
]
TRACKS = {
    Role.MELODY: [("0", "1/4", (67,), 90)],
    Role.BASS: [("0", "1/4", (43,), 80)],
    Role.CLICK: [("0", "1/32", (76,), 110)],
}


def controls(messages):
    """(tick, controller, value) of a track's control changes, volume left out."""
    return [
        (tick, message.control, message.value)
        for tick, message in messages
        if message.type == "control_change" and message.control != 7
    ]


@pytest.mark.parametrize(("a4", "cents", "steps", "msb", "lsb"), TABLE)
def test_fine_tuning(a4, cents, steps, msb, lsb):
    """A tuning is RPN 1 with these 14 bits, ended by RPN null."""
    assert cents_of(a4) == pytest.approx(cents, abs=0.001)
    assert steps == msb * 128 + lsb
    rpn = ((101, 0), (100, 1), (6, msb), (38, lsb))
    assert tuning_controls(a4) == (*rpn, (101, 127), (100, 127))


@pytest.mark.parametrize("a4", [400, 415.3, 415.4, 432, 440.01, 466, 466.3, 480])
def test_what_a_synthesiser_makes_of_it(a4):
    """Whole semitones of RPN 2 (64 in tune) and the steps of RPN 1 add up to the tuning."""
    tuned, number, values = {1: 8192, 2: 64 * 128}, None, {}
    for controller, value in tuning_controls(a4):
        values[controller] = value
        number = values.get(100)
        if controller == 38:
            tuned[number] = values[6] * 128 + value
    cents = 100 * (tuned[2] // 128 - 64) + (tuned[1] - 8192) * 100 / 8192
    assert cents == pytest.approx(cents_of(a4), abs=0.0123)
    assert number == 127


def test_a_file_is_tuned_at_its_start(build, tracks_of):
    """Every melodic channel is tuned at tick 0, before its first note; percussion is not."""
    found = tracks_of(render_midi(build(TRACKS), a4=442.0))
    expected = [(0, *control) for control in tuning_controls(442.0)]
    assert controls(found["melody"]) == controls(found["bass"]) == expected
    assert controls(found["click"]) == []
    kinds = [message.type for _, message in found["melody"]]
    assert kinds.index("note_on") > max(
        place for place, kind in enumerate(kinds) if kind == "control_change"
    )


def test_440_needs_no_word(build):
    """A file at 440 Hz has no tuning in it: synthesisers are there already (General MIDI)."""
    performance = build(TRACKS)
    assert render_midi(performance, a4=440.0) == render_midi(performance)


def test_our_reader_takes_no_notice(build):
    """A tuned file is read as the same tune as one at 440 Hz."""
    performance = build(TRACKS, title="The Tuned Gate")
    assert parse_midi(render_midi(performance, a4=415.0)) == parse_midi(render_midi(performance))


@pytest.mark.parametrize("a4", [0.0, -440.0, 399.9, 480.1, float("nan"), float("inf")])
def test_a_tuning_of_no_box(build, a4):
    """A outside 400 to 480 Hz is refused."""
    with pytest.raises(PracticeError) as refused:
        render_midi(build(TRACKS), a4=a4)
    assert refused.value.message == f"A cannot be at {a4:g} Hz"
