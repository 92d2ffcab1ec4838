"""The reeds through the sound card: by hand, through miniaudio's null device, and on JACK."""

import shutil
import subprocess
import sys
from itertools import cycle

import miniaudio
import numpy as np
import pytest

from backing.arranging.arrangement import CHANNELS, Role
from backing.errors import PortError
from backing.live import speaker, wire
from backing.live.speaker import RATE, Speaker
from backing.render.channels import VOLUME
from backing.render.reeds import Reeds
from backing.render.speaking import longest_lead

MELODY, CLICK = CHANNELS[Role.MELODY], CHANNELS[Role.CLICK]
#: A block of the card, in frames: 10 ms.
BLOCK = 480


class Card:
    """Stands in for miniaudio's device: it asks for frames when a test says so."""

    there = True
    opened: list["Card"]
    backend = "of a test"

    def __init__(self, **options):
        if not Card.there or options["backends"] == ["broken"]:
            raise miniaudio.MiniaudioError("no card")
        self.running = False
        self.options = options
        Card.opened.append(self)

    def start(self, frames):
        self.frames, self.running = frames, True

    def close(self):
        self.running = False

    def ask(self, count):
        return self.frames.send(count)


class Hand:
    """A speaker whose card and clock are turned by hand."""

    def __init__(self, backends=("any",), tracks=()):
        self.at = 50.0
        self.heard = []
        self.speaker = Speaker(Reeds(RATE), tracks, backends, now=lambda: self.at)

    @property
    def card(self):
        return Card.opened[-1]

    def ask(self, count=BLOCK, takes=None):
        """The card asks, and plays for as long as that lasts, or as long as a test says."""
        self.heard.append(self.card.ask(count))
        self.at += count / RATE if takes is None else takes

    def send(self, message, due=None):
        self.speaker.send(message, self.at if due is None else due)

    def sound(self):
        """All that the card was given, both sides together."""
        return np.concatenate(self.heard).sum(axis=1)


QUICK = """X:1
T:Quick
M:2/4
L:1/8
Q:1/4=300
K:G
|:"G"G2B2|"D"d2A2|"G"BGdB|"D"A4:|
"""


@pytest.fixture
def quick(tmp_path):
    """A file with a tune of a few seconds."""
    path = tmp_path / "quick.abc"
    path.write_text(QUICK, encoding="utf-8")
    return path


@pytest.fixture(autouse=True)
def _no_waiting(monkeypatch):
    """Closing does not wait for the last sound."""
    monkeypatch.setattr(speaker, "sleep", lambda seconds: None)


@pytest.fixture
def hand(monkeypatch):
    """Build a speaker on the stand-in."""
    monkeypatch.setattr(miniaudio, "PlaybackDevice", Card)
    monkeypatch.setattr(Card, "there", True)
    monkeypatch.setattr(Card, "opened", [], raising=False)
    return Hand


def click():
    """The message for one click."""
    return wire.note_on(CLICK, 76, 127)


def onsets(sound):
    """Frames in which sound begins after 50 ms of silence or more."""
    loud = np.flatnonzero(np.abs(sound) > 0.01)
    return [int(frame) for frame in loud[np.diff(loud, prepend=-RATE) > RATE // 20]]


def first_frame_of_a_click():
    """In how many frames after its own start a click is louder than the limit of `onsets`."""
    wave = np.zeros(RATE // 10, np.float32)
    Reeds(RATE).sound(Role.CLICK, 76, 127, 0).add_to(wave, 0)
    return onsets(wave)[0]


@pytest.mark.parametrize(
    "blocks", [(480,), (64,), (1024,), (441, 512), (4096,), (480, 480, 480, 96)], ids=str
)
def test_a_message_sounds_when_it_is_due_whatever_the_blocks(hand, blocks):
    """Clicks every quarter of a second are given to the card every 12000 frames, to the frame,
    the same time after they are due, in blocks of every size (48000 frames a second)."""
    by_hand = hand()
    sizes = cycle(blocks)
    while by_hand.at < 50.2:
        by_hand.ask(next(sizes))
    dues = [50.25 + 0.25 * number for number in range(8)]
    waiting = list(dues)
    while by_hand.at < 52.5:
        size = next(sizes)
        while waiting and waiting[0] < by_hand.at:
            by_hand.send(click(), waiting.pop(0))
        by_hand.ask(size)
    found = onsets(by_hand.sound())
    assert len(found) == len(dues)
    assert all(abs(gap - 12000) <= 1 for gap in np.diff(found))
    late = (found[0] - first_frame_of_a_click()) / RATE - 0.25
    ahead = longest_lead(RATE) / RATE
    assert late == pytest.approx(by_hand.speaker._latency + ahead, abs=2 / RATE)
    assert max(blocks) / RATE + ahead <= late <= 0.1 + ahead


def test_a_card_that_asks_in_bursts_is_waited_for_long_enough(hand):
    """Where a card asks for four blocks at once and then for none, as sound servers do, the
    distances of the clicks are kept to a frame all the same once the card is known."""
    by_hand = hand()
    waiting = [51.5 + 0.25 * number for number in range(8)]
    while by_hand.at < 54:
        while waiting and waiting[0] < by_hand.at:
            by_hand.send(click(), waiting.pop(0))
        for _ in range(3):
            by_hand.ask(takes=0)
        by_hand.ask(takes=4 * BLOCK / RATE)
    found = onsets(by_hand.sound())
    assert len(found) == 8
    # the card's clock is followed block by block: a thirtieth of a millisecond on the way
    assert all(abs(gap - 12000) <= 8 for gap in np.diff(found))


@pytest.mark.slow
def test_a_card_whose_clock_differs_is_followed(hand):
    """Against a card that is 0.1 % fast nothing drifts: in a minute it has asked for 60 ms
    more, and clicks stay where they are due within a few milliseconds."""
    by_hand = hand()
    found = []
    for number in range(6010):
        by_hand.ask(takes=BLOCK / RATE / 1.001)
        if number % 1000 == 999:
            by_hand.send(click())
            found.append(len(by_hand.heard) * BLOCK)
    late = [onset - frame for onset, frame in zip(onsets(by_hand.sound()), found, strict=False)]
    assert len(late) == 6
    assert np.ptp(late) <= 0.006 * RATE


def test_a_card_that_stumbles_is_found_again_at_once(hand):
    """After half a second in which the card did not ask, messages are placed as exactly as
    before: distances are kept to a frame."""
    by_hand = hand()
    for _ in range(50):
        by_hand.ask()
    by_hand.at += 0.5
    by_hand.ask()
    waiting = [by_hand.at + 0.1 + 0.25 * number for number in range(4)]
    for _ in range(120):
        while waiting and waiting[0] < by_hand.at:
            by_hand.send(click(), waiting.pop(0))
        by_hand.ask()
    assert all(abs(gap - 12000) <= 1 for gap in np.diff(onsets(by_hand.sound())))


def test_a_late_message_sounds_at_once(hand):
    """A message that was due long ago sounds with the next frame that is asked for."""
    by_hand = hand()
    for _ in range(10):
        by_hand.ask()
    by_hand.send(click(), by_hand.at - 1)
    by_hand.ask()
    assert onsets(by_hand.sound()) == [10 * BLOCK + first_frame_of_a_click()]


def test_a_slow_reed_is_on_the_beat_of_the_click(hand):
    """A low reed through the card passes half of its height within 1 ms of the frame in which a
    click of the same moment begins (the onset of a slow attack, as in files)."""
    starts = []
    for message in (click(), wire.note_on(CHANNELS[Role.BASS], 40, 100)):
        by_hand = hand()
        for _ in range(10):
            by_hand.ask()
        by_hand.send(message)
        for _ in range(30):
            by_hand.ask()
        starts.append(by_hand.sound())
    begin = onsets(starts[0])[0] - first_frame_of_a_click()
    window = np.hanning(2 * round(RATE / 82.4))  # two periods of E2
    height = np.sqrt(np.convolve(np.square(starts[1].astype(float)), window, "same"))
    full = height[begin + RATE // 15 : begin + RATE // 10].mean()
    assert abs(int(np.argmax(height > full / 2)) - begin) < RATE / 1000


def test_a_late_reed_comes_in_softly(hand):
    """A reed whose message comes too late for its attack begins at once, and without a click:
    it has risen to a tenth of its height no sooner than after half a millisecond."""
    by_hand = hand()
    for _ in range(10):
        by_hand.ask()
    by_hand.send(wire.note_on(CHANNELS[Role.BASS], 40, 100), by_hand.at - 1)
    for _ in range(30):
        by_hand.ask()
    sound = np.abs(by_hand.sound()[10 * BLOCK :])
    loud = np.flatnonzero(sound > sound.max() / 10)
    assert RATE // 2000 < loud[0] < RATE // 50


def strength(sound):
    """How loud, as effective value."""
    return float(np.sqrt(np.mean(np.square(sound))))


def test_a_note_sounds_until_its_end(hand):
    """A note sounds from note-on to note-off and is silent a tenth of a second later; so it is
    with velocity 0 for its end (MIDI 1.0 Detailed Specification)."""
    for end in (wire.note_off(MELODY, 69), wire.note_on(MELODY, 69, 0)):
        by_hand = hand()
        by_hand.send(wire.note_on(MELODY, 69, 100))
        for _ in range(30):
            by_hand.ask()
        by_hand.send(end)
        for _ in range(30):
            by_hand.ask()
        sound = by_hand.sound()
        assert strength(sound[10 * BLOCK : 30 * BLOCK]) > 0.01
        assert not sound[45 * BLOCK :].any()


@pytest.mark.parametrize("number", [wire.ALL_NOTES_OFF, wire.ALL_SOUND_OFF])
def test_all_notes_off_ends_a_channel(hand, number):
    """Controllers 123 and 120 end every note of their channel and of no other (MIDI 1.0
    Detailed Specification)."""
    by_hand = hand()
    bass = CHANNELS[Role.BASS]
    for message in (wire.note_on(MELODY, 69, 100), wire.note_on(MELODY, 73, 100)):
        by_hand.send(message)
    by_hand.send(wire.controller(bass, number, 0))
    for _ in range(20):
        by_hand.ask()
    assert strength(by_hand.heard[-1]) > 0.01
    by_hand.send(wire.controller(MELODY, number, 0))
    for _ in range(20):
        by_hand.ask()
    assert not by_hand.heard[-1].any()


def test_volume_is_that_of_general_midi(hand):
    """Half the channel volume is 12 dB less (General MIDI level 2: 40 log10 of the ratio)."""
    found = []
    for level in (100, 50):
        by_hand = hand()
        by_hand.send(wire.controller(MELODY, VOLUME, level))
        by_hand.send(wire.note_on(MELODY, 69, 100))
        for _ in range(40):
            by_hand.ask()
        found.append(strength(by_hand.sound()[20 * BLOCK :]))
    assert 40 * np.log10(2) == pytest.approx(20 * np.log10(found[0] / found[1]), abs=0.01)


def test_a_key_that_is_struck_again_at_once_is_heard_as_two_notes(hand):
    """Between two notes of one key without a gap the sound falls by 6 dB and more."""
    by_hand = hand()
    by_hand.send(wire.note_on(MELODY, 81, 100))
    for _ in range(30):
        by_hand.ask()
    by_hand.send(wire.note_off(MELODY, 81))
    by_hand.send(wire.note_on(MELODY, 81, 100))
    for _ in range(30):
        by_hand.ask()
    pieces = by_hand.sound()[10 * BLOCK : 50 * BLOCK].reshape(-1, BLOCK // 4)
    loud = np.sqrt(np.mean(np.square(pieces), axis=1))
    assert loud.min() < np.median(loud) / 2


def test_messages_that_mean_nothing_to_reeds_are_let_pass(hand):
    """Clock, song position, programs, and channels that no track has do nothing."""
    by_hand = hand()
    for text in ("f8", "fa", "f20102", "c115", "b10100", "9f3c40", "e00040"):
        by_hand.send(bytes.fromhex(text))
    by_hand.ask()
    assert not by_hand.sound().any()


def test_a_question_for_many_frames_is_answered_in_full(hand):
    """A second at once is a second of sound, with each click in its place."""
    by_hand = hand()
    by_hand.ask()
    by_hand.send(click(), by_hand.at)
    by_hand.send(click(), by_hand.at + 0.5)
    by_hand.ask(RATE)
    first, second = onsets(by_hand.sound())
    assert len(by_hand.sound()) == RATE + BLOCK
    assert second - first == RATE // 2


@pytest.mark.slow
def test_many_loud_notes_are_cut_at_full_scale(hand):
    """However much sounds, no frame leaves the range of -1 to 1."""
    by_hand = hand()
    for key in range(40, 100):
        by_hand.send(wire.note_on(MELODY, key, 127))
    for _ in range(10):
        by_hand.ask()
    both = np.concatenate(by_hand.heard)
    assert np.abs(both).max() == 1


# -- the bellows of a box -----------------------------------------------------------------


def held_tone(hand, size, breath=None):
    """Seconds of A4 through the card, and the frame in which notes begin that are due with a
    breath, so many seconds after one of them."""
    by_hand, begins = hand(), 0
    while by_hand.at < 50.2:
        by_hand.ask(size)
    by_hand.send(wire.note_on(MELODY, 69, 100))
    while by_hand.at < 51:
        by_hand.ask(size)
    if breath is not None:
        by_hand.speaker.breathe(by_hand.at + breath)
        begins = by_hand.speaker._frame_of(by_hand.at + breath)
    while by_hand.at < 52:
        by_hand.ask(size)
    return by_hand.sound().astype(np.float64), begins


def dip_of(sound, plain):
    """First and last frame, and depth in dB, of what is softer than in the plain sound."""
    loud = np.abs(plain) > 1e-4
    apart = np.zeros(len(plain))
    apart[loud] = 20 * np.log10(np.abs(sound[loud] / plain[loud]))
    low = np.flatnonzero(apart < -0.01)
    return low[0], low[-1], apart.min()


@pytest.mark.parametrize("size", [64, 480, 1024])
def test_a_breath_is_heard_through_the_card(hand, size):
    """Through the card a held note falls by at most 1 dB for 30 ms, up to where notes begin that
    are due at the same moment, in blocks of every size."""
    sound, begins = held_tone(hand, size, 0.0)
    first, last, depth = dip_of(sound, held_tone(hand, size)[0])
    assert -1 <= depth < -0.8
    assert (last - first) / RATE == pytest.approx(0.028, abs=0.001)
    assert begins - 0.031 * RATE <= first < last <= begins


def test_a_breath_that_comes_late_is_taken_at_once(hand):
    """A breath that was due long ago dips with the next frame that is asked for, whole: nothing
    jumps."""
    sound, _ = held_tone(hand, BLOCK, -1.0)
    first, last, depth = dip_of(sound, held_tone(hand, BLOCK)[0])
    assert -1 <= depth < -0.8
    assert 0 <= first - RATE < 2 * BLOCK
    assert (last - first) / RATE == pytest.approx(0.028, abs=0.001)


# -- a card that is not there, goes away, comes back ---------------------------------------


def test_without_a_card_it_says_what_to_do(hand, monkeypatch):
    """Where no way leads to a card the fault says so and what helps."""
    monkeypatch.setattr(Card, "there", False)
    with pytest.raises(PortError) as caught:
        hand()
    assert caught.value.text() == (
        "error: there is no sound card that can be played through\n"
        "hint: connect loudspeaker or headphones; or play through a synthesiser, --port NAME "
        "('backing ports' lists them); or make an audio file, backing make -o tune.ogg"
    )


def test_each_way_to_a_card_is_tried(hand):
    """Where the first way is there but leads to no card, the next is taken."""
    by_hand = hand(backends=("broken", "sound"))
    assert by_hand.card.options["backends"] == ["sound"]


def test_a_card_that_asks_no_more_is_gone_and_looked_for(hand, monkeypatch):
    """Without a question for more than a second the card is gone; it is looked for each
    second, and is back when the new one asks. What was to sound meanwhile does not."""
    by_hand = hand()
    by_hand.send(wire.note_on(MELODY, 69, 100))
    by_hand.ask()
    by_hand.ask()
    first = by_hand.card
    by_hand.at += 0.9
    assert not by_hand.speaker.gone
    monkeypatch.setattr(Card, "there", False)
    by_hand.at += 0.2
    assert by_hand.speaker.gone
    assert not first.running
    by_hand.send(wire.note_on(MELODY, 71, 100))
    monkeypatch.setattr(Card, "there", True)
    by_hand.at += 0.9
    assert by_hand.speaker.gone
    assert len(Card.opened) == 1
    by_hand.at += 0.2
    assert by_hand.speaker.gone  # it is open again, but has not asked yet
    assert len(Card.opened) == 2
    by_hand.heard.clear()
    by_hand.ask()
    assert not by_hand.speaker.gone
    by_hand.ask(RATE)
    assert not by_hand.sound().any()
    by_hand.send(click())
    by_hand.ask(RATE)
    assert len(onsets(by_hand.sound())) == 1


def test_what_is_closed_stays_closed(hand):
    """After its end a speaker is gone, opens no card again, and a second end does nothing."""
    by_hand = hand()
    by_hand.ask()
    by_hand.speaker.close()
    by_hand.speaker.close()
    assert not by_hand.card.running
    for _ in range(5):
        by_hand.at += 1.5
        assert by_hand.speaker.gone
    assert len(Card.opened) == 1


# -- real devices ---------------------------------------------------------------------------

NULL = """
import sys, time, miniaudio
from backing.cli import main
from backing.live import speaker
speaker.Speaker.__init__.__defaults__ = ((), [miniaudio.Backend.NULL], time.perf_counter)
sys.argv = ["backing", "play", sys.argv[1], "--times", "1", "--bars", "1-2"]
main.run()
"""


@pytest.mark.slow
def test_playing_through_the_null_device_ends_by_itself(quick):
    """A tune that is played once through miniaudio's null device, in real time, ends with exit
    code 0, and the program with it."""
    ran = subprocess.run(
        [sys.executable, "-c", NULL, quick],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert ran.stderr.startswith("playing Quick to the sound card (Null): ")
    assert ran.stderr.count("\n") == 1
    assert ran.returncode == 0


NOBODY = """
import miniaudio
from backing.errors import PortError
from backing.live.speaker import RATE, Speaker
from backing.render.reeds import Reeds
try:
    Speaker(Reeds(RATE), (), [miniaudio.Backend.ALSA, miniaudio.Backend.JACK])
except PortError as fault:
    print(fault.message)
"""


@pytest.mark.slow
def test_the_talk_of_the_libraries_is_not_shown(monkeypatch, tmp_path):
    """Where ALSA has no card and JACK no server, nothing of what libasound and libjack write
    themselves gets to the screen."""
    nothing = tmp_path / "asound.conf"
    nothing.write_text("pcm.!default { type nowhere }\n", encoding="utf-8")
    monkeypatch.setenv("ALSA_CONFIG_PATH", str(nothing))
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "backing-nobody")
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    command = [sys.executable, "-c", NOBODY]
    ran = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert ran.stdout == "there is no sound card that can be played through\n"
    assert ran.stderr == ""


@pytest.mark.slow
def test_sound_arrives_on_jack(jack, quick, tmp_path, until):
    """Through miniaudio's way to JACK the clicks of a tune arrive at another program, evenly."""
    import soundfile

    if not shutil.which("jack_rec"):
        pytest.skip("jack_rec is not installed (Debian: jackd2, jack-example-tools)")
    quiet = [f"--mute={role}" for role in ("melody", "bass", "chords")]
    playing = subprocess.Popen(
        [sys.executable, "-m", "backing", "play", quick, *quiet],
        stdin=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert playing.stderr is not None
    said = playing.stderr.readline()
    assert said.startswith("playing Quick to the sound card (JACK): ")
    written = tmp_path / "heard.wav"
    command = ["jack_rec", "-f", written, "-d", "2", "-b", "16", "backing:playback0"]
    subprocess.run(command, capture_output=True, timeout=60, check=True)
    playing.terminate()
    assert playing.wait(timeout=20) == 143
    assert playing.stderr.read() == ""
    playing.stderr.close()
    samples, rate = soundfile.read(written)
    loud = np.flatnonzero(np.abs(samples) > 0.01)
    struck = loud[np.diff(loud, prepend=-rate) > rate / 10]
    assert len(struck) >= 6
    assert np.median(np.diff(struck)) / rate == pytest.approx(0.2, abs=0.002)
