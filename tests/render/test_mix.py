"""A performance as sound: when its notes begin, what is in the mix, how it is balanced."""

import subprocess
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from shutil import which

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import PlacedTempo, Role
from backing.files import load_style
from backing.music.tempo import Tempo
from backing.parse.abc import parse_abc
from backing.practice.passages import Bars
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.render.midi import render_midi
from backing.render.mix import Desk, frames_of, reed_blocks
from backing.render.reeds import Reeds

RATE = 48000
EXAMPLES = Path(__file__).parent.parent.parent / "examples"
VALID = Path(__file__).parent.parent / "data" / "valid"
#: A pickup; three tempi.
CHANGING = """X:1
T:The Lock Ladder
M:6/8
L:1/8
Q:3/8=100
K:G
D|"G"G2A B2d|"C"e2d c2B|[Q:3/8=63]"D7"A2F D2E|"G"G3 z2D|[Q:3/8=131]"G"G2A B2d|"D"d2c A2F|"G"G3 G2|]
"""


TIMED = [CHANGING, EXAMPLES / "the-lock-keepers-kettle.abc", VALID / "crooked-weir.abc"]


def practice(path, style="alternating", **step):
    """A tune of ours (a path) or a text, performed."""
    text = path.read_text(encoding="utf-8") if isinstance(path, Path) else path
    tune = parse_abc(text)
    return perform(arrange(tune, load_style(style)), Plan((Step(**step),)), tune)


def rendered(performance, rate=RATE, **more):
    """All frames of the mix as asked for."""
    return np.concatenate([block.wanted for block in reed_blocks(performance, rate, **more)])


def only(performance, role):
    """Everything muted but one track."""
    tracks = (track._replace(muted=track.role is not role) for track in performance.tracks)
    return performance._replace(tracks=tuple(tracks))


def apart(performance, role, turn, turns):
    """One track, every so-many-th of its events from one on, cut short to have silence between."""
    events = [
        event._replace(length=Fraction(1, 64)) for event in performance.track(role).events
    ]  # fmt: skip
    onsets = sorted({event.onset for event in events})[turn::turns]
    kept = tuple(event for event in events if event.onset in set(onsets))
    alone = only(performance, role)
    tracks = (
        track._replace(events=kept) if track.role is role else track for track in alone.tracks
    )
    return alone._replace(tracks=tuple(tracks)), onsets


def held_on(performance, role, turn, turns=4):
    """One track, every so-many-th of its events, one note of each, long enough to reach its
    height, the others gone."""
    alone, onsets = apart(performance, role, turn, turns)
    tracks = []
    for track in alone.tracks:
        events = (
            e._replace(length=Fraction(1, 8), pitches=e.pitches[turn % len(e.pitches) :][:1])
            for e in track.events
        )
        tracks.append(track._replace(events=tuple(events)))
    return alone._replace(tracks=tuple(tracks)), onsets


def late_by(sound, at, rate, lowest):
    """Seconds after `at` in which a sound passes half of its height, the effective value through
    a window of two periods of its lowest key or more (Hann); the height is that of its first
    tenth of a second, once it has risen."""
    window = np.hanning(max(2 * round(rate / (440 * 2 ** ((lowest - 69) / 12))), rate // 100))
    first = round((at - 0.06) * rate)
    piece = sound[max(first, 0) : first + round(0.2 * rate)].max(axis=1).astype(np.float64)
    piece = np.concatenate((np.zeros(max(-first, 0)), piece))
    height = np.sqrt(np.convolve(np.square(piece), window, "same"))
    full = height[round(0.12 * rate) : round(0.15 * rate)].mean()
    return (int(np.argmax(height > full / 2)) + first) / rate - at


def onsets_in(sound, rate=RATE, threshold=1e-4, silence=0.01):
    """Seconds of the first frames after silence that are louder than this share of the peak."""
    size = np.abs(sound).max(axis=1)
    loud = np.flatnonzero(size > threshold * size.max())
    first = np.concatenate(([True], np.diff(loud) > silence * rate))
    return loud[first] / rate


def decibels(ratio):
    """A ratio of amplitudes."""
    return 20 * np.log10(ratio)


# -- when ------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("rate", [44100, 48000])
@pytest.mark.parametrize("role", [Role.MELODY, Role.BASS, Role.CHORDS])
@pytest.mark.parametrize("tune", TIMED)
def test_notes_begin_where_the_score_has_them(tune, role, rate, clock):
    """Each note passes half of its height within 1 ms of its second by the tempi (60 / beats)."""
    performance = practice(tune)
    second = clock(performance)
    for turn in range(4):
        sparse, positions = held_on(performance, role, turn)
        sound = rendered(sparse, rate, tremolo=0.0)
        lowest = {event.onset: min(event.pitches) for event in sparse.track(role).events}
        for position in positions:
            at = second(position)
            if at > 0.05:  # what is before the start of a file cannot sound
                assert abs(late_by(sound, at, rate, lowest[position])) < 0.001


@pytest.mark.slow
@pytest.mark.parametrize("rate", [44100, 48000])
@pytest.mark.parametrize("tune", TIMED)
def test_clicks_begin_where_the_score_has_them(tune, rate, clock):
    """Each click begins within 1 ms of its second by the tempi (60 / beats)."""
    role = Role.CLICK
    performance = practice(tune)
    second = clock(performance)
    for turn in range(2):
        sparse, positions = apart(performance, role, turn, 2)
        wanted = np.array([second(position) for position in positions])
        found = onsets_in(rendered(sparse, rate), rate)
        assert len(found) == len(wanted)
        assert np.abs(found - wanted).max() < 0.001


@pytest.mark.slow
@pytest.mark.skipif(which("fluidsynth") is None, reason="no fluidsynth program")
def test_another_synthesiser_begins_its_notes_there(sound_font, tmp_path):
    """FluidSynth's rendering of our MIDI file has its clicks where ours has them, within 1 ms."""
    # FluidSynth counts whole milliseconds and begins a note with a block of 64 frames (1.33
    # ms), and the recorded click has an attack of its own: a delay between 0 and 6 ms, the
    # same for all clicks of a sort but for that rounding, is taken off.
    performance = practice(CHANGING, times=2)
    for key in (76, 77):
        clicks = only(performance, Role.CLICK)
        tracks = tuple(
            track._replace(events=tuple(e for e in track.events if e.pitches == (key,)))
            for track in clicks.tracks
        )
        clicks = clicks._replace(tracks=tracks)
        midi, wav = tmp_path / f"{key}.mid", tmp_path / f"{key}.wav"
        midi.write_bytes(render_midi(clicks))
        command = ["fluidsynth", "-ni", "-R", "0", "-C", "0", "-r", str(RATE), "-F", wav]
        subprocess.run([*command, sound_font, midi], check=True, capture_output=True, timeout=60)
        soundfile = pytest.importorskip("soundfile")
        theirs = onsets_in(soundfile.read(wav)[0], threshold=1e-2, silence=0.1)
        ours = onsets_in(rendered(clicks), threshold=1e-2, silence=0.1)
        assert len(theirs) == len(ours) > 10
        late = theirs - ours
        assert 0 < late.min() < late.max() < 0.006
        assert np.ptp(late) / 2 < 0.001


def test_silence_before_the_first_note(melody_only):
    """Before the first note there is nothing at all, but the 12 ms in which a reed of A4 rises to
    half of its height (20 ms from a tenth to nine tenths)."""
    sound = rendered(melody_only(("1/2", "1/4", 69), tempo=("1/4", 120)))
    assert not sound[: RATE - 12 * RATE // 1000].any()
    assert sound[RATE - 8 * RATE // 1000 : RATE].any()


@pytest.mark.slow
@pytest.mark.parametrize("rate", [8000, 44100, 192000])
def test_a_file_lasts_as_long_as_its_performance(rate):
    """A file has the performance's seconds, and then what the last notes need to die away."""
    performance = practice(CHANGING)
    frames = sum(len(block.wanted) for block in reed_blocks(performance, rate))
    seconds = frames_of(performance, rate) / rate
    assert seconds == pytest.approx(performance.seconds, abs=1 / rate)
    assert seconds <= frames / rate < seconds + 0.3


def test_an_empty_performance_is_silent(build):
    """A performance without a note is its seconds of silence."""
    sound = rendered(build({Role.MELODY: []}, bars=2))
    assert sound.shape == (4 * RATE, 2)
    assert not sound.any()


# -- what ------------------------------------------------------------------------------


@pytest.mark.slow
def test_muted_tracks_are_in_the_whole_only():
    """A muted track is not in `wanted`, and `whole` is the same as with nothing muted."""
    performance = practice(CHANGING, muted=frozenset({Role.MELODY}))
    blocks = list(reed_blocks(performance, RATE))
    wanted, whole = (np.concatenate([block[i] for block in blocks]) for i in (0, 1))
    full = rendered(practice(CHANGING))
    assert np.allclose(whole, full, atol=1e-6)
    alone = rendered(only(practice(CHANGING), Role.MELODY))
    assert np.allclose(whole - wanted, alone, atol=1e-6)
    assert np.abs(alone).max() > 0.01


def test_the_channel_level_is_squared(build):
    """A channel volume is 40 log10(volume / 127) dB below full (General MIDI 2, RP-024)."""
    performance = build({Role.MELODY: [("0", "1", [69], 90)]})
    powers = []
    for level in (64, 127):
        tracks = tuple(track._replace(level=level) for track in performance.tracks)
        powers.append(np.abs(rendered(performance._replace(tracks=tracks))).max())
    assert decibels(powers[0] / powers[1]) == pytest.approx(40 * np.log10(64 / 127), abs=0.01)


def test_panning_keeps_the_power():
    """Left and right of a track have the power that it has in the middle (constant power)."""
    for role in Role:
        left, right = Reeds(RATE).pan(role)
        assert left**2 + right**2 == pytest.approx(1)


@pytest.mark.slow
def test_the_tune_sits_at_the_right_hand():
    """The melody is a little to the right, bass and chords to the left (a player's hands)."""
    for role, right_louder in ((Role.MELODY, True), (Role.BASS, False), (Role.CHORDS, False)):
        left, right = np.abs(rendered(only(practice(CHANGING), role))).max(axis=0)
        assert (right > left) == right_louder


@pytest.mark.parametrize("a4", [440.0, 442.0])
def test_the_tuning_reaches_the_mix(melody_only, a4):
    """A performance at A = 442 sounds A at 442 Hz."""
    line = melody_only(("0", "2", 69), bars=2, tempo=("1/4", 60))
    sound = rendered(line, a4=a4, tremolo=0.0)[:, 1]
    spectrum = np.abs(np.fft.rfft(sound[RATE : RATE * 5] * np.hanning(RATE * 4)))
    assert np.argmax(spectrum[: 500 * 4]) / 4 == pytest.approx(a4, abs=0.25)


# -- coming, going, coming again -------------------------------------------------------


def sizes_of(sound):
    """Effective values over 3 ms (at least a period of A), at every frame."""
    power = np.square(sound.max(axis=1).astype(np.float64))
    return np.sqrt(np.convolve(power, np.ones(218) / 218, "same"))


def test_a_repeated_note_is_heard_as_struck_again(melody_only):
    """Between two notes of one pitch without a rest the sound dips by 15 dB (a finger lifts)."""
    sound = rendered(melody_only(("0", "1/4", 69), ("1/4", "1/4", 69)))
    size = sizes_of(sound)
    between = size[RATE // 2 - 2000 : RATE // 2 + 2000].min()
    assert decibels(between / size[RATE // 4]) < -15


def test_quick_repeated_notes_are_not_choked(melody_only):
    """Of notes of 50 ms on one pitch three quarters of each are held: at most 1.5 dB are lost."""
    quick = [(Fraction(n, 40), Fraction(1, 40), 69) for n in range(40)]
    size = [np.mean(np.square(rendered(melody_only(*line)))) for line in (quick, [(0, 1, 69)])]
    assert 10 * np.log10(size[0] / size[1]) > -1.5


def test_other_notes_are_joined(melody_only):
    """Between two notes of different pitch without a rest the sound does not dip by 6 dB."""
    sound = rendered(melody_only(("0", "1/4", 69), ("1/4", "1/4", 76)))
    size = sizes_of(sound)
    between = size[RATE // 2 - 2000 : RATE // 2 + 2000].min()
    assert decibels(between / size[RATE // 4]) > -6


def test_a_key_struck_again_at_once_is_heard():
    """Played live, where nobody knows that it comes, a re-strike still dips by 8 dB."""
    desk = Desk(Reeds(RATE), Role.MELODY, 100)
    desk.press(69, 90, 0).let_go(24000)
    desk.press(69, 90, 24000).let_go(40000)
    sound = np.concatenate(list(desk_blocks(desk, 48000)))
    size = sizes_of(sound)
    assert decibels(size[23000:26000].min() / size[12000]) < -8
    assert not desk.sounding


def desk_blocks(desk, frames, size=256):
    """Blocks as a sound card asks for them."""
    for first in range(0, frames, size):
        block = np.zeros((min(size, frames - first), 2), np.float32)
        desk.add_to([block], first)
        yield block


def test_repeated_bass_notes_do_not_click(build):
    """Restrikes of a low key leave nothing at 12 kHz, where it has no partials."""
    strokes = [(Fraction(n, 32), Fraction(1, 32), [40], 90) for n in range(32)]
    sound = rendered(build({Role.BASS: strokes}))[:, 0]
    size = 256
    stretches = np.lib.stride_tricks.sliding_window_view(sound, size)[::64]
    power = np.abs(np.fft.rfft(stretches * np.blackman(size))) ** 2
    assert 10 * np.log10(power[:, size // 4 :].sum(1).max() / power.sum(1).max()) < -80


def test_a_file_ends_when_its_last_note_has_died_away(melody_only):
    """The last frame is silent, and only silence is left out: a reed is heard to the end."""
    sound = np.abs(rendered(melody_only(("0", "1", 69)))).max(axis=1)
    assert len(sound) > 2 * RATE
    assert sound[-1] < 1e-6
    assert np.flatnonzero(sound > 1e-4)[-1] > len(sound) - 0.01 * RATE


# -- balance ---------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "style"), [("the-towpath-mare", "alternating"), ("the-eel-trap", "sustained")]
)
def test_the_tune_stands_in_front(name, style):
    """The melody is the loudest track by ITU-R BS.1770, and the click does not stick out; with
    two reeds a note beats, which takes some of the room for peaks."""
    # The limits are working values of ours; at -16 LUFS the mix is to have room above it.
    meter = pytest.importorskip("pyloudnorm").Meter(RATE)
    performance = practice(EXAMPLES / f"{name}.abc", style)
    tracks = {track.role: rendered(only(performance, track.role)) for track in performance.tracks}
    heard = {role: meter.integrated_loudness(each.astype(float)) for role, each in tracks.items()}
    assert heard[Role.MELODY] - 8 < heard[Role.BASS] < heard[Role.MELODY] - 1
    assert heard[Role.CHORDS] < heard[Role.MELODY] - 4
    peaks = {role: np.abs(each).max() for role, each in tracks.items()}
    assert decibels(peaks[Role.CLICK] / peaks[Role.MELODY]) < 6
    mix = sum(tracks.values())
    full = meter.integrated_loudness(mix.astype(float))
    assert decibels(np.abs(mix).max()) - 16 - full < -2


@pytest.mark.slow
def test_the_bass_is_heard_on_a_phone():
    """Above 300 Hz, all that a phone's speaker gives, the bass is within 8 dB of the melody."""
    performance = practice(CHANGING)
    above = []
    for role in (Role.BASS, Role.MELODY):
        sound = rendered(only(performance, role)).sum(axis=1)
        power = np.abs(np.fft.rfft(sound)) ** 2
        above.append(power[np.fft.rfftfreq(len(sound), 1 / RATE) > 300].sum())
    assert 10 * np.log10(above[0] / above[1]) > -8


# -- laws ------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("rate", [44100, 48000])
@pytest.mark.parametrize("example", ["mist-on-the-bottom-lock", "the-lock-keepers-kettle"])
def test_between_its_samples_a_mix_is_hardly_higher(example, rate):
    """The true peak (4 times oversampled, as in ITU-R BS.1770-4, annex 2) is at most 0.2 dB above
    the highest sample: it is enough to measure samples."""
    count = 2**20  # the piece, and silence up to there
    wave = rendered(practice(EXAMPLES / f"{example}.abc", span=Bars(1, 8)), rate)
    assert len(wave) < count
    between = np.fft.irfft(np.fft.rfft(wave, count, axis=0), 4 * count, axis=0) * 4
    assert -0.001 < decibels(np.abs(between).max() / np.abs(wave).max()) < 0.2


@pytest.mark.slow
@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.fractions(0, 1, max_denominator=64),
            st.fractions(Fraction(1, 3840), 1, max_denominator=3840),
            st.integers(0, 127),
            st.integers(1, 127),
        ),
        max_size=12,
    ),
    st.sampled_from([8000, 22050, 48000]),
    st.sampled_from([0.0, 1.0, 30.0]),
)
def test_any_notes_make_a_sound_that_ends(build, notes, rate, tremolo):
    """Whatever the notes, the sound is finite, as long as they are, and dies away."""
    line = sorted((onset, length, [key], velocity) for onset, length, key, velocity in notes)
    performance = build({Role.MELODY: line, Role.CLICK: line}, tempo=("1/4", 240))
    sound = rendered(performance, rate, tremolo=tremolo)
    assert np.isfinite(sound).all()
    last = max([1.0, *(float(onset + length) for onset, length, _, _ in line)])
    assert last - 2 / rate <= len(sound) / rate <= last + 0.3
    assert np.abs(sound[-1]).max() < 1e-4


def test_a_note_at_the_start_of_a_file_does_not_click(build):
    """A note on the first frame, which cannot speak ahead of it, comes in within 5 ms, from
    nothing, with nothing above 12 kHz."""
    sound = rendered(build({Role.BASS: [("0", "1", [40], 90)]}), tremolo=0.0)[:, 0]
    assert abs(sound[0]) < 1e-4
    power = [
        np.abs(np.fft.rfft(np.concatenate((np.zeros(120), sound[:136])) * np.blackman(256))) ** 2,
        np.abs(np.fft.rfft(sound[9600:9856] * np.blackman(256))) ** 2,
    ]
    assert 10 * np.log10(power[0][64:].sum() / power[1].sum()) < -60


@pytest.mark.parametrize("key", [40, 69, 81])
def test_a_loop_speaks_ahead_at_its_end(build, key):
    """What a loop's first note sounds ahead of it is at the end of the loop: played round, it
    passes half of its height on the seam, within 1 ms, and jumps nowhere."""
    performance = build({Role.MELODY: [("0", "3/4", [key], 90)]})
    sound = rendered(performance, loops=True, tremolo=0.0)
    seam = frames_of(performance, RATE)
    loop = sound[:seam].copy()
    loop[: len(sound) - seam] += sound[seam:]
    around = np.roll(loop, RATE, axis=0)
    assert abs(late_by(around, 1.0, RATE, key)) < 0.001
    steps = np.abs(np.diff(around, axis=0)).max(axis=1)
    assert steps[RATE - 100 : RATE + 100].max() < steps[RATE + 4800 : RATE + 9600].max()


@pytest.mark.slow
def test_all_reeds_breathe_together(build):
    """All reeds share one curve of pressure: about a decibel from highest to lowest, less than
    half a decibel a second, the same for every track and each time; the click has none."""
    curves = []
    for role, key in ((Role.MELODY, 69), (Role.BASS, 45)):
        sound = rendered(build({role: [("0", "10", [key], 90)]}, bars=10), tremolo=0.0)[:, 0]
        pieces = np.square(sound[RATE : 19 * RATE], dtype=np.float64).reshape(-1, RATE // 10)
        curves.append(10 * np.log10(pieces.mean(axis=1)))
        assert 0.7 < np.ptp(curves[-1]) < 1.3
        assert np.abs(np.diff(curves[-1])).max() < 0.05
    assert np.ptp(curves[0] - curves[1]) < 0.05
    clicks = [(Fraction(n), Fraction(1, 4), [76], 110) for n in range(10)]
    sound = np.abs(rendered(build({Role.CLICK: clicks}, bars=10))).max(axis=1)
    assert np.ptp(sound.reshape(10, -1).max(axis=1)) < 1e-6


def test_a_button_knocks_once():
    """A chord of three notes is one button, and knocks once: the same as that of one note."""
    desks = [Desk(Reeds(RATE), Role.CHORDS, 100) for _ in range(2)]
    for desk, keys in zip(desks, ((55,), (55, 59, 62)), strict=True):
        for key in keys:
            desk.press(key, 90, 4800)
    assert [len(desk.sounding) for desk in desks] == [2, 4]


def test_a_slow_click_is_heard_to_its_end(build):
    """A knock at 4 beats a minute, whose key is held for seconds, sounds once and dies away."""
    performance = build({Role.CLICK: [("0", "1/4", [76], 110)]}, tempo=("1/4", 4))
    sound = np.abs(rendered(performance, 8000)).max(axis=1)
    assert sound[:100].max() > 0.01
    assert not sound[4000:].any()


def test_a_tempo_change_is_heard_at_once(build, clock):
    """A note after a change of tempo begins by both tempi: 2 beats at 120, 1 at 30 is 3 s."""
    performance = build({Role.MELODY: [("3/4", "1/8", [69], 90)]}, bars=1)
    slow = PlacedTempo(Fraction(1, 2), Tempo(Fraction(30), Fraction(1, 4)))
    performance = performance._replace(tempos=(*performance.tempos, slow))
    assert late_by(rendered(performance, tremolo=0.0), 3.0, RATE, 69) == pytest.approx(0, abs=0.001)
    assert clock(performance)(Fraction(3, 4)) == 3.0


@pytest.mark.slow
def test_desk_blocks_do_not_matter():
    """A track is the same in blocks of 256 frames as in one of 8192, to the last bit."""
    found = []
    for size in (256, 8192):
        desk = Desk(Reeds(RATE, tremolo=10.0), Role.MELODY, 100)
        for key, (start, stop) in enumerate(pairwise(range(0, 8000, 900)), 60):
            desk.press(key, 80, start).let_go(stop)
        found.append(np.concatenate(list(desk_blocks(desk, 8192, size))))
    assert np.array_equal(*found)
