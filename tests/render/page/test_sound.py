"""What a page sounds like, rendered by the browser itself: the pitch of its reeds, how loud its
tracks are beside a sound file; and that the browser schedules what Node does."""

import base64
import json
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from backing.arranging.arrangement import Role
from backing.files import load_style, read_tune
from backing.files.boxes import load_box
from backing.practice.asked import Asked
from backing.practice.backing import make_backing, performance_of
from backing.practice.passages import Bars
from backing.practice.plan import Plan, Step
from backing.render.blocks import Block
from backing.render.levels import LevelMeter, gain_for
from backing.render.loudness import Meter, loudness
from backing.render.mix import reed_blocks
from backing.render.page.music import PageChoice, music_data
from backing.render.page.voices import reed_data
from backing.render.presses import Seconds, key_presses, ticks
from backing.render.reeds import frequency_of
from backing.render.sound_laws import DIP_DB, DIP_SECONDS

EXAMPLE = Path(__file__).parents[3] / "examples" / "the-towpath-mare.abc"
RATE = 48000
#: Renders presses of keys, with what is asked of a press after that, and what else is asked of the
#: sound; gives back what is heard, left and right in turn.
RENDER = """async ([table, levels, presses, seconds, rate, acts]) => {
  const context = new OfflineAudioContext(2, Math.ceil(seconds * rate), rate);
  const sound = new $sound.ReedSound(context, table, levels);
  for (const [role, key, start, stop, velocity, ...more] of presses) {
    const voice = sound.press(role, key, velocity, start);
    voice.letGo(stop);
    for (const [way, ...at] of more) voice[way](...at);
  }
  for (const [way, ...at] of acts) sound[way](...at);
  const made = await context.startRendering();
  const bytes = new Uint8Array(made.length * 8);
  const both = new Float32Array(bytes.buffer);
  const [left, right] = [made.getChannelData(0), made.getChannelData(1)];
  for (let at = 0; at < made.length; at += 1) {
    [both[2 * at], both[2 * at + 1]] = [left[at], right[at]];
  }
  let text = "";
  for (let at = 0; at < bytes.length; at += 32768) {
    text += String.fromCharCode(...bytes.subarray(at, at + 32768));
  }
  return btoa(text);
}"""
LEVELS = {"melody": 110, "bass": 88, "chords": 88, "click": 90}

pytestmark = pytest.mark.slow


@pytest.fixture
def tab(modules_tab):
    return modules_tab


def rendered(tab, presses, seconds, **how):
    table = reed_data(how.get("a4", 440.0), how.get("tremolo", 5.0))
    text = tab.evaluate(RENDER, [table, LEVELS, presses, seconds, RATE, how.get("acts", [])])
    return np.frombuffer(base64.b64decode(text), np.float32).reshape(-1, 2)


def pitch_of(wave):
    """Hertz of the lowest partial, by a parabola through the logarithms of a spectrum's peak."""
    spectrum = np.abs(np.fft.rfft(wave * np.hanning(len(wave))))
    peak = int(np.argmax(spectrum))
    low, top, high = np.log(spectrum[peak - 1 : peak + 2])
    return (peak + (low - high) / (2 * (low - 2 * top + high))) * RATE / len(wave)


@pytest.mark.parametrize("a4", [440.0, 442.0])
@pytest.mark.parametrize("key", [45, 57, 69, 76, 88])
def test_a_reed_is_in_tune(tab, key, a4):
    """Equal temperament (A = 440 Hz: ISO 16): within two cents, whatever A is."""
    role = "bass" if key < 50 else "melody"
    sound = rendered(tab, [[role, key, 0.1, 3.9, 80]], 4, a4=a4, tremolo=0)
    steady = sound[RATE : 3 * RATE].sum(axis=1).astype(float)
    found, wanted = pitch_of(steady), frequency_of(key, a4)
    found /= max(1, round(found / wanted))  # a bass's second partial is its loudest
    assert abs(1200 * np.log2(found / wanted)) < 2


def test_two_reeds_beat(tab):
    """Ten cents apart at A: 440 * (2 ** (10 / 1200) - 1) = 2.5 times a second."""
    sound = rendered(tab, [["melody", 69, 0.1, 5.9, 80]], 6, tremolo=10)
    power = np.square(sound[RATE : 5 * RATE].sum(axis=1).astype(float))
    swell = np.add.reduceat(power, np.arange(0, len(power), RATE // 100))
    spectrum = np.abs(np.fft.rfft(swell - swell.mean()))
    assert np.argmax(spectrum[:40]) / 4 == pytest.approx(2.54, abs=0.26)


def loudness_in(sound):
    meter = Meter(RATE)
    for first in range(0, len(sound), RATE):
        meter.add(sound[first : first + RATE])
    return loudness(meter.powers())


@pytest.mark.parametrize("style", ["alternating", "sustained"])
def test_tracks_are_as_loud_as_in_a_sound_file(tab, style):
    """By ITU-R BS.1770, each track alone: within 1.5 dB of what `make` writes, where all of it
    sets the gain."""
    tune = read_tune(EXAMPLE, "").tune
    asked = Asked(Plan((Step(span=Bars(1, 8)),)), load_style(style), box=load_box("D/G"))
    performance = performance_of(make_backing(tune, asked))
    seconds = Seconds(performance.tempos, performance.start)
    zero = seconds.at(ticks(performance.start))
    whole = np.concatenate([block.whole for block in reed_blocks(performance, RATE)])
    meter = LevelMeter(RATE)
    for first in range(0, len(whole), RATE):
        piece = whole[first : first + RATE]
        meter.add(Block(piece, piece))
    gain = gain_for(meter.levels()).factor
    for track in performance.tracks:
        others = tuple(
            each._replace(muted=each.role is not track.role) for each in performance.tracks
        )
        alone = performance._replace(tracks=others)
        file = np.concatenate([block.wanted for block in reed_blocks(alone, RATE)]) * gain
        presses = [
            [
                str(track.role),
                p.key,
                seconds.at(p.onset) - zero,
                seconds.at(p.stop) - zero,
                p.velocity,
            ]
            for p in key_presses(track.events)
        ]
        page = rendered(tab, presses, len(file) / RATE)
        assert loudness_in(page) == pytest.approx(loudness_in(file), abs=1.5), track.role
        if track.role is Role.MELODY:  # it begins and ends with the same frames, to a hundredth
            ours, theirs = (np.abs(each).max(axis=1) > 0.01 for each in (page, file))
            assert abs(int(ours.argmax()) - int(theirs.argmax())) < RATE / 100


def test_nothing_clips(tab):
    """All tracks together, as loud as they go, stay below full scale."""
    keys = [["melody", 74, 0.1, 1, 110], ["bass", 43, 0.1, 1, 110], ["click", 76, 0.1, 0.2, 110]]
    keys += [["chords", key, 0.1, 1, 100] for key in (55, 59, 62)]
    assert np.abs(rendered(tab, keys, 1.2)).max() < 1


def test_what_is_taken_back_is_not_heard(tab):
    """Another key, a click and an earlier end of the note, all while they are still to come."""
    plain = rendered(tab, [["melody", 69, 0.3, 1.5, 80]], 2)
    changed = rendered(
        tab,
        [
            ["melody", 69, 0.3, 0.9, 80, ["hold"], ["letGo", 1.2], ["hold"], ["letGo", 1.5]],
            ["bass", 45, 0.5, 0.9, 80, ["cancel"]],
            ["click", 76, 0.5, 0.6, 80, ["cancel"]],
            ["melody", 69, 1.4, 1.7, 80, ["cancel"]],
        ],
        2,
    )
    assert np.abs(plain).max() > 0.05
    assert np.abs(changed - plain).max() < 1e-4


def test_a_new_breath_is_a_dip(tab):
    """It ends where the bellows turn; in its middle all reeds are softer by as much as in a sound
    file."""
    key, turn = ["bass", 45, 0.1, 2.8, 80], 1.5
    middle = round((turn - DIP_SECONDS / 2) * RATE)
    near, before, after = (
        slice(at - RATE // 400, at + RATE // 400) for at in (middle, RATE, round(1.6 * RATE))
    )
    plain = rendered(tab, [key], 3)
    dipped = rendered(tab, [key], 3, acts=[["breathe", turn]])
    assert np.abs(dipped - plain)[before].max() < 1e-4
    assert np.abs(dipped - plain)[after].max() < 1e-4
    softer = np.sqrt(np.square(dipped[near]).mean() / np.square(plain[near]).mean())
    assert 20 * np.log10(softer) == pytest.approx(-DIP_DB, abs=0.2)


def test_the_tune_goes_to_one_ear(tab):
    """Where a step asks for it: the tune on one side alone, the left hand on the other."""
    tune, bass = ["melody", 69, 0.1, 0.9, 80], ["bass", 45, 0.1, 0.9, 80]
    for key, ear in ((tune, "left"), (bass, "right")):
        heard = np.abs(rendered(tab, [key], 1, acts=[["place", ear, 0]])).max(axis=0)
        assert heard[0] > 0.02
        assert heard[1] < 1e-4
    both = [np.abs(rendered(tab, [key], 1)).max(axis=0).min() for key in (tune, bass)]
    assert min(both) > 0.02


def test_the_browser_schedules_what_node_does(tab, node):
    """The same walk in both: an example with all its faces, a ladder, and a tempo in mid-bar."""
    tune = read_tune(EXAMPLE, "").tune
    ladder = (Fraction(1, 2), Fraction(3, 4))
    values = []
    for step in (Step(times=2), Step(Bars(5, 6), times=None, ladder=ladder, echo=True)):
        backing = make_backing(tune, Asked(Plan((step,)), load_style("alternating")))
        music = music_data("x", [PageChoice("", "", (backing,))], Plan((step,)))
        values.append({"music": music, "asked": [[3.3, "slower"], [7.1, "faster"]]})
    said = [tab.evaluate("value => $playing.play(value)", value) for value in values]
    assert [json.loads(json.dumps(each)) for each in said] == node("play.mjs", values)
