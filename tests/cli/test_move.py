"""`backing move`."""

from pathlib import Path

import pytest

from backing.files import read_tune
from backing.parse.abc import parse_abc

EXAMPLES = Path(__file__).parents[2] / "examples"
TRAP = EXAMPLES / "the-eel-trap.abc"  # A dorian
TUNES = sorted(path for path in EXAMPLES.glob("*.abc") if "book" not in path.name)


@pytest.mark.slow
@pytest.mark.parametrize("suffix", [".abc", ".musicxml"])
@pytest.mark.parametrize("example", TUNES, ids=lambda path: path.stem)
def test_there_and_back(cli, tmp_path, example, suffix):
    """Moved from G/C to D/G and back as the buttons sound, every example has the same notes,
    chords and key."""
    there, back = tmp_path / f"there{suffix}", tmp_path / f"back{suffix}"
    as_it_sounds = ("--octave", "0", "-o")
    assert cli("move", example, "--from", "G/C", "--to", "D/G", *as_it_sounds, there).code == 0
    assert cli("move", there, "--from", "D/G", "--to", "G/C", *as_it_sounds, back).code == 0
    first, last = read_tune(example).tune, read_tune(back).tune
    assert [[note.pitches for note in bar] for bar in last.melody.bars] == [
        [note.pitches for note in bar] for bar in first.melody.bars
    ]
    assert [[symbol.chord for symbol in bar.chords] for bar in last.bars] == [
        [symbol.chord for symbol in bar.chords] for bar in first.bars
    ]
    assert last.key == first.key
    if suffix == ".abc":
        assert last.voices == first.voices


def test_what_is_said(cli):
    """The tune goes to stdout, the interval and the key in which it now stands to stderr."""
    result = cli("move", TRAP, "--from", "G/C", "--to", "D/G")
    assert "The Eel Trap, the buttons of G/C on D/G: a fifth up, now in E dorian" in result.err
    assert str(parse_abc(result.out).key) == "E dorian"


def first_note(text: str) -> int:
    """The MIDI key of the first note of an ABC text."""
    return next(parse_abc(text).notes()).pitches[0].midi


@pytest.mark.slow
def test_the_octave_that_reads_best(cli):
    """Without `--octave` it is written where it reads best, and that is said; 0 writes it as the
    buttons sound, other numbers octaves from there."""
    boxes = ("--from", "G/C", "--to", "D/G")
    best = cli("move", TRAP, *boxes)
    assert (
        "a fifth up, now in E dorian; written an octave lower than the buttons sound, where it "
        "reads best (--octave 0: as they sound)\n" in best.err
    )
    sounding = cli("move", TRAP, *boxes, "--octave", "0")
    assert "a fifth up, now in E dorian\n" in sounding.err
    lower = cli("move", TRAP, *boxes, "--octave", "-1")
    assert lower.out == best.out
    assert "written an octave lower than the buttons sound\n" in lower.err
    written = next(read_tune(TRAP).tune.notes()).pitches[0].midi
    assert (first_note(sounding.out), first_note(best.out)) == (written + 7, written - 5)


@pytest.mark.slow
def test_the_octave_in_another_key(cli):
    """Transposed to another key it is written where it reads best too; `--octave 0` is the
    nearest way."""
    kettle = EXAMPLES / "the-lock-keepers-kettle.abc"
    best = cli("move", kettle, "--to-key", "G")
    assert "a fourth up, now in G major; written an octave lower, where it reads best" in best.err
    nearest = cli("move", kettle, "--to-key", "G", "--octave", "0")
    assert "a fourth up, now in G major\n" in nearest.err
    assert first_note(nearest.out) == first_note(best.out) + 12


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("Em", "a fourth down, now in E dorian"),
        ("Bdor", "a tone up, now in B dorian"),
        ("Am", "at the same pitch, in A dorian"),
        ("C#m", "a major third up, now in C# dorian"),
        ("Eb minor", "half an octave up, now in Eb dorian"),
        ("D#m", "half an octave up, now in D# dorian"),
    ],
)
def test_to_another_key(cli, key, said):
    """`--to-key` transposes the nearest way, spelled as asked for; the mode stays the tune's."""
    result = cli("move", TRAP, "--to-key", key)
    assert said in result.err
    assert str(parse_abc(result.out).key) == said.rpartition("in ")[2]


@pytest.mark.slow
def test_to_another_key_and_back(cli, tmp_path):
    """Transposed and back again it is the same tune."""
    there = tmp_path / "there.abc"
    cli("move", TRAP, "--to-key", "F#m", "-o", there)
    again = parse_abc(cli("move", there, "--to-key", "Am").out)
    assert again.voices == read_tune(TRAP).tune.voices


@pytest.mark.slow
def test_musicxml_out(cli, tmp_path):
    """A moved tune is written as MusicXML by its suffix."""
    out = tmp_path / "moved.musicxml"
    result = cli("move", TRAP, "--to-key", "Edor", "-o", out)
    assert f"wrote {out}: The Eel Trap, transposed" in result.err
    assert str(read_tune(out).tune.key) == "E dorian"


@pytest.mark.slow
def test_an_own_box(cli, tmp_path):
    """A box of a player's own is moved to and from by its file."""
    path = tmp_path / "mine.toml"
    path.write_text(cli("boxes", "D/G", "--file").out, encoding="utf-8")
    result = cli("move", TRAP, "--from", "G/C", "--to", f"{path}:low-notes")
    assert "now in E dorian" in result.err


@pytest.mark.parametrize(
    ("arguments", "code", "message"),
    [
        (["--from", "G/C"], 2, "give --from BOX and --to BOX, or --to-key KEY"),
        ([], 2, "give --from BOX and --to BOX, or --to-key KEY"),
        (
            ["--from", "G/C", "--to", "D/G", "--to-key", "D"],
            2,
            "give --from BOX and --to BOX, or --to-key KEY",
        ),
        (["--from", "G/C", "--to", "B/C"], 1, "does not go on B/C"),
        (["--from", "G/C", "--to", "D/H"], 1, "did you mean D/G?"),
        (["--to-key", "G"], 1, "one is major, the other minor"),
        (["--to-key", "H"], 2, "give a key like D"),
        (["--to-key", "none"], 2, "--to-key 'none' is not a key"),
        (["--to-key", "Edor", "-o", "x.mid"], 1, "does not end in .abc"),
        (["--to-key", "Edor", "--octave", "5"], 2, "give -2 to 2"),
    ],
)
def test_faults(cli, arguments, code, message):
    """What cannot be moved is said, with what to do."""
    result = cli("move", TRAP, *arguments)
    assert result.code == code
    assert message in result.err.replace("\n", " ")


def test_a_tune_without_a_key(cli, tmp_path):
    """A tune that names no key cannot be moved to one, but to another box."""
    path = tmp_path / "bare.abc"
    path.write_text("X:1\nT:Bare\nM:4/4\nL:1/8\nK:none\nA2ce A4|\n", encoding="utf-8")
    result = cli("move", path, "--to-key", "D")
    assert (result.code, "the tune names no key" in result.err) == (1, True)
    result = cli("move", path, "--from", "G/C", "--to", "D/G", "--octave", "0")
    assert "Bare, the buttons of G/C on D/G: a fifth up\n" in result.err


WITH_REMARKS = """%abc-2.1
%%pagewidth 21cm
% a book of gates

X:4
T:Two Gates % their names are lost
%%stretchlast 1
V:1 name="Upper" clef=treble
V:2 name="Lower gate" clef=bass octave=-1
M:4/4
L:1/8
K:F clef=treble % as she played it
V:1
% first the upper one
"F"c2AF "C7"G2E2|c4 C4| % turn round here
[r:slower]%%staffsep 1cm
F8|]
W:One by one
V:2
% then the lower one
F4 E4|A8|
F8|]
%%text That is all.
"""
MOVED = """%abc-2.1
%%pagewidth 21cm
% a book of gates

X:4
T:Two Gates % their names are lost
%%stretchlast 1
V:1 name="Upper" clef=treble
V:2 name="Lower gate" clef=bass
M:4/4
L:1/8
K:G clef=treble % as she played it
V:1
% first the upper one
"G"d2BG"D7"A2F2 | d4D4 | % turn round here
r:slower
G8 |] %%staffsep 1cm
V:2
% then the lower one
G,4F,4 | B,8 |
G,8 |]
W:One by one
%%text That is all.
"""


def test_what_stands_beside_the_music(cli, tmp_path):
    """Remarks, directives, the file's first line, names and clefs of voices and the lines of the
    music stay where they were, but words after the tune (clause 5.2) go there, and shifts of
    pitch go altogether, since the music is written as it sounds."""
    path = tmp_path / "gates.abc"
    path.write_text(WITH_REMARKS, encoding="utf-8")
    result = cli("move", path, "--to-key", "G")
    assert result.out == MOVED
    assert "left out" not in result.err


def test_what_cannot_stay_is_said(cli, tmp_path):
    """Where the tune would read otherwise with them, remarks and directives are left out, and
    that is said."""
    path = tmp_path / "gates.abc"
    path.write_text(
        "X:1\nT:Gates\n% a remark\nM:4/4\nL:1/8\nK:F\nF8|\nN:it goes on\\\nafter this\nA8|\n",
        encoding="utf-8",
    )
    result = cli("move", path, "--to-key", "G")
    assert "remarks, directives and what is said of voices and clefs are left out" in result.err
    assert "% a remark" not in result.out
    assert parse_abc(result.out).texts == read_tune(path).tune.texts


def test_macros_are_written_out(cli, tmp_path):
    """A macro, and what says how accidentals or line breaks are to be read, goes: the music is
    written without them."""
    path = tmp_path / "macro.abc"
    path.write_text(
        "X:1\nT:Turn\n%%propagate-accidentals pitch\nI:linebreak !\nm:~n3=n/o/n/m/n\nM:4/4\n"
        "L:1/8\nK:C\n% here\n~G3 ^c C4!|\n",
        encoding="utf-8",
    )
    result = cli("move", path, "--to-key", "D")
    assert result.out == ("X:1\nT:Turn\nM:4/4\nL:1/8\nK:D\n% here\nA/2B/2A/2G/2A^d^D4 |\n")


def test_words_after_a_tune_stay_below_it(cli, tmp_path):
    """Words that are printed after the tune (ABC 2.1 clause 5.2) are written below all voices,
    with what goes on from them, wherever they stood; a note stays at its voice."""
    path = tmp_path / "words.abc"
    path.write_text(
        "X:1\nT:Words Below\nM:4/4\nL:1/8\nV:1\nV:2\nK:D\nV:1\nA8|\nW:low sinks\n+:the lock\n"
        "W:high stands the gate\nV:2\nN:a note of the second\nD8|\n",
        encoding="utf-8",
    )
    lines = cli("move", path, "--to-key", "E").out.splitlines()
    assert lines[-6:] == [
        "V:2", "N:a note of the second", "E8 |",
        "W:low sinks", "+:the lock", "W:high stands the gate",
    ]  # fmt: skip
