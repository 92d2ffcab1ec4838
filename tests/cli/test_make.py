"""`backing make`: what a player asks for is what is in the file."""

import shutil
from pathlib import Path

import mido
import pytest

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
JIG = EXAMPLES / "the-lock-keepers-kettle.abc"


def notes_of(path, name):
    """(tick, key) of each note-on of a track, in order."""
    file = mido.MidiFile(path, charset="utf-8")
    found, at = [], 0
    for message in next(track for track in file.tracks if track.name == name):
        at += message.time
        if message.type == "note_on":
            found.append((at, message.note))
    return found


def names_of(path):
    """The names of the tracks after the conductor's."""
    return [track.name for track in mido.MidiFile(path, charset="utf-8").tracks[1:]]


def test_a_slowed_loop_of_two_bars(cli, tmp_path):
    """Two bars of a jig four times at 60 per cent with the melody muted: the bars, the
    length, the count-in and the tempo are as asked for."""
    out = tmp_path / "loop.mid"
    result = cli(
        "make", JIG, "--style", "alternating", "--percent", 60, "--bars", "5-6", "--times", 4,
        "--count-in", 2, "--mute", "melody", "-o", out,
    )  # fmt: skip
    assert result.code == 0, result.err
    assert names_of(out) == ["bass", "chords", "click"]
    # 2 + 4 x 2 bars of two dotted crotchets, at 60 % of 112 a minute
    assert mido.MidiFile(out).length == pytest.approx(10 * 2 * 60 / 67.2, abs=0.001)
    assert len(notes_of(out, "click")) == 20
    bass = notes_of(out, "bass")
    bar = 6 * 480
    assert bass[0][0] == 2 * bar
    one = [(tick, key) for tick, key in bass if tick < 4 * bar]
    assert bass == [(tick + 2 * bar * time, key) for time in range(4) for tick, key in one]
    assert "bars 5-6, 4 times, alternating, band backing, 3/8 = 67.2" in result.err
    assert "60 % of 3/8 = 112, usual for a jig" in result.err
    assert "33.6 bars a minute" in result.err
    assert "count-in 2 bars, melody muted, 17.9 seconds" in result.err
    assert result.out == ""


def test_one_line_on_stderr_says_what_was_made(cli, tmp_path):
    """A tune without oddities ends in exactly one line of talk."""
    result = cli("make", JIG, "-o", tmp_path / "a.mid")
    assert result.err.count("\n") == 1
    assert result.err.startswith("made ")
    assert (
        "the whole tune, 32 bars, once, jig, band backing, 3/8 = 112 (usual for a jig; 56 bars"
        in (result.err)
    )


@pytest.mark.parametrize(
    ("example", "unit", "count_in"),
    [
        ("the-lock-keepers-kettle", "3/8", "2 bars"),
        ("ice-on-the-tiller", "1/2", "2 bars"),
        ("forty-sacks-of-coal", "1/4", "2 bars"),
        ("the-lamplighters-round", "1/4", "2 bars"),
        ("the-winding-hole", "1/2", "1 bar"),
        ("mist-on-the-bottom-lock", "3/8", "1 bar"),
        ("the-towpath-mare", "1/4", "1 bar"),
    ],
)
def test_a_bare_tempo_counts_felt_beats(cli, tmp_path, example, unit, count_in):
    """`--tempo 60` means the felt beat of the dance, and the count-in at least four of
    them, three in slow three-time (common practice, no source)."""
    path = EXAMPLES / f"{example}.abc"
    result = cli("make", path, "--tempo", 60, "-o", tmp_path / "a.mid")
    assert f"{unit} = 60 (" in result.err
    assert f"count-in {count_in}" in result.err


def test_a_tempo_may_name_its_unit(cli, tmp_path):
    """`--tempo 1/8=180` is the same speed as 60 dotted crotchets."""
    first, second = tmp_path / "a.mid", tmp_path / "b.mid"
    cli("make", JIG, "--tempo", "1/8=180", "-o", first)
    cli("make", JIG, "--tempo", "60", "-o", second)
    assert first.read_bytes() == second.read_bytes()


def test_a_dance_may_be_named(cli, tmp_path):
    """`--dance` gives tempo and felt beat where the tune names none."""
    tune = tmp_path / "t.abc"
    tune.write_text("X:1\nT:t\nM:4/4\nL:1/8\nK:G\nG8|A8|B8|G8|]\n")
    result = cli("make", tune, "--dance", "reel", "-o", tmp_path / "a.mid")
    assert "1/2 = 108 (usual for a reel" in result.err


def test_the_count_in_sounds_when_the_click_is_muted(cli, tmp_path):
    """Muting the click leaves the count-in's clicks and no others."""
    out = tmp_path / "a.mid"
    cli("make", JIG, "--mute", "click", "--count-in", 1, "-o", out)
    assert [tick for tick, _ in notes_of(out, "click")] == [0, 1440]


def test_single_track_holds_the_same_notes(cli, tmp_path):
    """`--single-track` writes format 0 with every note of format 1."""
    many, one = tmp_path / "a.mid", tmp_path / "b.mid"
    cli("make", JIG, "-o", many)
    cli("make", JIG, "--single-track", "-o", one)
    file = mido.MidiFile(one)
    assert file.type == 0
    assert len(file.tracks) == 1
    together = sorted(note for name in names_of(many) for note in notes_of(many, name))
    at, found = 0, []
    for message in file.tracks[0]:
        at += message.time
        if message.type == "note_on":
            found.append((at, message.note))
    assert sorted(found) == together


def test_a_section_with_its_second_ending(cli, tmp_path):
    """`--section A` ends with the last-time bars, `--ending 1` with the first-time bars."""
    waltz = EXAMPLES / "the-lamplighters-round.abc"
    first, second = tmp_path / "a.mid", tmp_path / "b.mid"
    cli("make", waltz, "--section", "A", "--ending", 1, "-o", first)
    result = cli("make", waltz, "--section", "a", "-o", second)
    assert "A part, 8 bars" in result.err
    assert notes_of(first, "melody") != notes_of(second, "melody")
    assert notes_of(first, "melody")[:12] == notes_of(second, "melody")[:12]


def test_a_bare_tune_keeps_the_drone_where_it_is_asked_for(cli, tmp_path):
    """A style that plays the key note alone needs no chords: none are found, nothing is said."""
    bare = EXAMPLES / "the-ice-boat-march.abc"
    result = cli("make", bare, "--style", "drone", "-o", tmp_path / "a.mid")
    assert "chords" not in result.err
    assert ", drone, " in result.err


def test_a_style_by_name_without_chords_plays_the_tonic(cli, tmp_path):
    """A style asked for by name plays the tonic chord of a bare tune where its own chords are
    asked for, with a message."""
    out = tmp_path / "a.mid"
    bare = EXAMPLES / "the-ice-boat-march.abc"
    result = cli("make", bare, "--style", "alternating", "--chords", "tune", "-o", out)
    assert "gives no chords: its tonic chord is played throughout" in result.err
    assert {key % 12 for _, key in notes_of(out, "chords")} == {2, 6, 9}


@pytest.mark.parametrize("option", ["--no-thirds", "--thirds-out"])
def test_thirds_out(cli, tmp_path, option):
    """Without thirds a D chord is D and A."""
    out = tmp_path / "a.mid"
    cli("make", JIG, option, "--bars", 1, "-o", out)
    assert {key % 12 for _, key in notes_of(out, "chords")} == {2, 9}


def test_a_tune_of_a_book(cli, tmp_path):
    """A tune of a book is chosen by number or title; without either the first is taken,
    and the program says so."""
    book = EXAMPLES / "canal-book.abc"
    paths = [tmp_path / f"{i}.mid" for i in range(3)]
    assert "a book of 3 tunes; the first is taken" in cli("make", book, "-o", paths[0]).err
    assert "a book of" not in cli("make", book, "--tune", 2, "-o", paths[1]).err
    cli("make", book, "--tune", "candle", "-o", paths[2])
    assert paths[1].read_bytes() == paths[2].read_bytes() != paths[0].read_bytes()


def test_an_old_output_is_replaced(cli, tmp_path):
    """With `--replace` an output that is there already is replaced whole."""
    out = tmp_path / "a.mid"
    out.write_bytes(b"x" * 1_000_000)
    assert cli("make", JIG, "--replace", "-o", out).code == 0
    assert out.read_bytes()[:4] == b"MThd"
    assert [path.name for path in tmp_path.iterdir()] == ["a.mid"]


def test_plain_leaves_ornaments_out(cli, tmp_path):
    """`--plain` leaves out grace notes and the fermata's hold."""
    tune = EXAMPLES / "roses-on-the-water-can.abc"
    full, plain = tmp_path / "a.mid", tmp_path / "b.mid"
    cli("make", tune, "-o", full)
    cli("make", tune, "--plain", "-o", plain)
    assert len(notes_of(full, "melody")) > len(notes_of(plain, "melody"))
    assert mido.MidiFile(full).length > mido.MidiFile(plain).length


def test_the_tune_survives(cli, tmp_path):
    """A tune is never overwritten by its output, under any name."""
    tune = tmp_path / "t.mid"
    shutil.copy(JIG, tune)
    before = tune.read_bytes()
    other = tmp_path / "other.mid"
    other.symlink_to(tune)
    for out in (tune, other):
        result = cli("make", tune, "-o", out)
        assert result.code == 1
        assert "is the tune itself" in result.err
    assert tune.read_bytes() == before


def test_a_backing_that_a_box_can_play(cli, tmp_path):
    """With `--box` the left hand is another, and the line says which box can play it; what
    it lacks is said with its bars and what stands for it."""
    free, boxed = tmp_path / "free.mid", tmp_path / "boxed.mid"
    cli("make", JIG, "-o", free)
    result = cli("make", JIG, "--box", "D/G", "-o", boxed)
    assert "jig, playable on D/G," in result.err
    assert "left hand: G chord missing in bars" in result.err
    assert "Em instead" in result.err
    assert notes_of(free, "melody") == notes_of(boxed, "melody")
    assert notes_of(free, "chords") != notes_of(boxed, "chords")


def test_a_box_that_lacks_notes(cli, tmp_path):
    """A tune that does not sit on the box is played all the same, and what is missing said."""
    result = cli("make", JIG, "--box", "C", "-o", tmp_path / "a.mid")
    assert result.code == 0
    assert "Does not sit on your C: " in result.err
    assert "backing fit says what helps" in result.err


def test_an_unknown_box_is_refused(cli, tmp_path):
    """An unknown box is an error with the nearest name, and nothing is written."""
    out = tmp_path / "a.mid"
    result = cli("make", JIG, "--box", "D/H", "-o", out)
    assert result.code == 1
    assert "did you mean D/G?" in result.err
    assert not out.exists()


def test_swing_where_nothing_swings(cli, tmp_path):
    """Threes of quavers are no pairs: `--swing` on a jig says that it changes nothing."""
    result = cli("make", JIG, "--swing", "2:1", "-o", tmp_path / "a.mid")
    assert result.code == 0
    assert "warning: swing changes nothing here: in 6/8 no pairs are swung" in result.err
    reel = EXAMPLES / "forty-sacks-of-coal.abc"
    assert "--swing" not in cli("make", reel, "--swing", "2:1", "-o", tmp_path / "a.mid").err


@pytest.mark.parametrize(
    ("options", "name"),
    [
        ([], "the-lock-keepers-kettle-100-percent.mp3"),
        (["--bars", "5-6", "--percent", 60, "--mute", "melody"],
         "the-lock-keepers-kettle-bars-5-6-60-percent-without-melody.mp3"),
        (["--part", "b", "--seamless"], "the-lock-keepers-kettle-b-part-8-bars-100-percent.flac"),
        (["--bars", 3, "--single-track"], "the-lock-keepers-kettle-bar-3-100-percent.mid"),
    ],
    ids=["whole", "bars", "part", "single track"],
)  # fmt: skip
def test_without_an_output_the_name_tells(cli, tmp_path, monkeypatch, options, name):
    """Without `-o` the file is here, under a name that tells what is in it, which is said;
    made again it takes the place of the first."""
    monkeypatch.chdir(tmp_path)
    if not options:
        options = ["--sample-rate", "8000"]
    for _ in range(2):
        result = cli("make", JIG, *options)
        assert result.code == 0, result.err
        assert f"made {name}: The Lock-Keeper's Kettle, " in result.err
        assert [path.name for path in tmp_path.iterdir()] == [name]
    (tmp_path / name).write_bytes(b"mine")
    assert cli("make", JIG, *options).code == 1
    assert (tmp_path / name).read_bytes() == b"mine"
