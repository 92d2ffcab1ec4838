"""How loud the tracks are beside each other: sound files of one track each, measured by
pyloudnorm (ITU-R BS.1770), and every style by our own meter."""

import importlib.util
from pathlib import Path

import pytest
import soundfile

from backing.files import style_files

pytestmark = pytest.mark.slow

HERE = Path(__file__).parent
EXAMPLES = HERE.parent.parent / "examples"
ROLES = ("melody", "bass", "chords", "click")


def loudness_alone(cli, folder, tune, style, role):
    """LUFS of a file in which one track sounds, the others muted."""
    import pyloudnorm  # loads much of SciPy

    path = folder / f"{role}.wav"
    muted = [word for other in ROLES if other != role for word in ("--mute", other)]
    options = ("--style", style, "--count-in", 0, "--sample-rate", 32000)
    result = cli("make", EXAMPLES / f"{tune}.abc", "-o", path, *options, *muted)
    assert result.code == 0, result.err
    wave, rate = soundfile.read(path, dtype="float64")
    return pyloudnorm.Meter(rate, filter_class="DeMan").integrated_loudness(wave)


@pytest.fixture(scope="module")
def bench():
    """The bench that measures every style: the tunes of each, and the distances."""
    path = HERE.parent / "bench" / "balance.py"
    spec = importlib.util.spec_from_file_location("bench_balance", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize(
    ("tune", "style"),
    [
        ("herrings-at-the-quay-steps", "polka"),
        ("mist-on-the-bottom-lock", "jig"),
        ("the-lamplighters-round", "waltz"),
        ("ice-on-the-tiller", "alternating"),
    ],
)
def test_the_tracks_of_a_file_lie_in_order(cli, tmp_path, tune, style):
    """As written to files, the bass lies below the melody, the chords 2 to 4 dB below the bass,
    the click no higher than the melody (working values: no source for a small box)."""
    melody, bass, chords, click = (
        loudness_alone(cli, tmp_path, tune, style, role) for role in ROLES
    )
    assert bass <= melody - 1
    assert bass - 4 <= chords <= bass - 2
    assert click <= melody


def test_the_tracks_of_every_style_lie_in_order(bench):
    """So they do in every style on every tune of its own kind, before the gain of the mix."""
    wrong = [row for row in bench.rows(list(bench.KINDS)) if not row[2].holds]
    assert not wrong


def test_every_style_with_bass_and_chords_is_measured(bench):
    """Only chords without a bass have no balance of their own."""
    ours = {name for name, file in style_files().items() if not file.own}
    assert ours - set(bench.KINDS) == {"offbeats"}
