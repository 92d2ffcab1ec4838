"""`backing fit`: what it prints, and what it refuses."""

from pathlib import Path

import pytest

from backing.parse.abc import parse_abc

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
KETTLE = EXAMPLES / "the-lock-keepers-kettle.abc"
IN_F = 'X:1\nT:Out of Reach\nM:4/4\nL:1/8\nK:F\n"F"F2A2 c2A2|"Bb"B2d2 "C"c2E2|F8|\n'


@pytest.fixture
def in_f(tmp_path):
    """A tune in F."""
    path = tmp_path / "reach.abc"
    path.write_text(IN_F, encoding="utf-8")
    return path


def test_a_fit_in_words(cli):
    """Without more the fit is told in a paragraph, with the notes by direction and the counts."""
    result = cli("fit", KETTLE, "--box", "D/G")
    assert result.code == 0
    assert result.out.startswith(
        "The Lock-Keeper's Kettle: D/G, profile middle, 3/8 = 112\n\nSits on your D/G, high octave"
    )
    assert "\n  push only  D5\n  pull only  C#5 E5\n" in result.out
    assert "44 bellows changes" in result.out


@pytest.mark.parametrize("example", sorted(EXAMPLES.glob("*.abc")), ids=lambda path: path.stem)
def test_everything_is_readable_at_80_columns(cli, example):
    """No line of buttons and bellows is wider than 80 columns, for any example."""
    result = cli("fit", example, "--buttons", "--bellows")
    assert result.code == 0
    assert max(len(line) for line in result.out.splitlines()) <= 80


def test_the_buttons_of_a_bar(cli):
    """Each bar shows chord, notes, and buttons on the line of their direction; ' is the inner
    row, as the key says."""
    out = cli("fit", EXAMPLES / "the-winding-hole.abc", "--buttons").out
    assert "6' on the inner (G)" in " ".join(out.split())
    lines = out.splitlines()
    at = next(index for index, line in enumerate(lines) if line.startswith("left   D"))
    rows = [line.split("|")[0] for line in lines[at : at + 4]]
    assert [row[:6].strip() for row in rows] == ["left", "note", "push", "pull"]
    notes, pressed = rows[1][6:].split(), " ".join(row[6:] for row in rows[2:]).split()
    assert len(notes) == len(pressed) == 8


def test_the_key_to_the_signs_tells_what_there_is(cli, in_f):
    """A note without a button and the left hand are explained where they occur."""
    there = " ".join(cli("fit", KETTLE, "--buttons").out.split())
    lacking = " ".join(cli("fit", in_f, "--box", "D", "--buttons", "--chords", "none").out.split())
    assert "? is a note without a button." in lacking
    assert "? is a note" not in there
    assert "a capital is a bass button" in there
    assert "a capital is a bass button" not in lacking


def test_every_note_of_every_bar_is_printed_once(cli):
    """The notes printed under the buttons are those of the written tune."""
    out = cli("fit", KETTLE, "--buttons").out
    notes = [
        name
        for line in out.splitlines()
        if line.startswith("note ")
        for name in line[6:].replace("|", " ").split()
    ]
    written = parse_abc(KETTLE.read_text(encoding="utf-8")).notes()
    assert len(notes) == sum(1 for _ in written) == 81


def test_all_boxes_in_a_table(cli):
    """The boxes that a tune sits on come first, the best of them at the top."""
    lines = cli("fit", KETTLE, "--all-boxes").out.splitlines()
    assert lines[4] == "every note is there:"
    assert lines[5].split()[0] == "D/G"
    there, lacking = lines[5:].index(""), lines.index("notes are missing:")
    assert all("octave" in line for line in lines[5 : 5 + there])
    assert all("lacks" in line for line in lines[lacking + 1 :] if line[:3].strip())


def test_the_best_keys_in_a_table(cli, in_f):
    """A tune in F has its best key on a D/G first, with the way there."""
    lines = cli("fit", in_f, "--box", "D/G:low-notes", "--best-key").out.splitlines()
    assert sum(" major " in line for line in lines) == 12
    assert lines[4:6] == [
        "every note is there:",
        "G major   a tone up                 1.0        0.3    100 %  low octave",
    ]
    assert max(map(len, lines)) <= 80


def test_tables_have_chords_for_each_box_and_key(cli, tmp_path):
    """Where a tune gives no chords each box and each key has its own, and that is said."""
    path = tmp_path / "bare.abc"
    path.write_text("X:1\nT:Bare\nM:4/4\nL:1/8\nK:F\nF2A2 c2A2|B2d2 c2G2|FGAB c2E2|F8|\n")
    for table in ("--all-boxes", "--best-key"):
        result = cli("fit", path, table)
        assert "chords are found for the tune on each box and in each key anew" in result.err
        assert "chords were found for it" not in result.err
    rows = {line.split()[0]: line for line in cli("fit", path, "--all-boxes").out.splitlines()
            if "%" in line}  # fmt: skip
    assert all(float(rows[box][29:34]) > 60 for box in ("G/C", "C/F"))


def test_points_are_shown_on_wish(cli):
    """What the fingering is chosen by, by name and number, is not said unasked."""
    assert "chord-missing" not in cli("fit", KETTLE, "--buttons").out
    assert "by middle: " in cli("fit", KETTLE, "--points").out


def test_what_helps_is_listed_best_first(cli, in_f):
    """Where a tune does not fit what keeps it comes first: octave, key, box; a note is changed
    only then."""
    out = cli("fit", in_f, "--box", "D/G:low-notes").out
    assert "Does not sit on your D/G:low-notes" in out
    helps = out[out.index("What helps, best first:") :]
    assert [line.split(":")[0] for line in helps.splitlines()[1:]] == [
        "  1. another key on this box",
        "  2. another box",
    ]
    assert "C/F" in helps


def test_a_note_is_changed_last_and_never_the_key_note(cli, tmp_path):
    """A tune in A that goes too high for one row in G: other keys and boxes first, then the odd
    notes; the key note stays itself, an octave down."""
    path = tmp_path / "high.abc"
    path.write_text("X:1\nT:High\nM:4/4\nL:1/8\nK:Ador\ne2a2 g2a2|e2d2 E4|G2B2 A4|\n")
    out = cli("fit", path, "--box", "G").out
    helps = out[out.index("What helps, best first:") :].splitlines()[1:]
    assert helps[0].startswith("  1. another key on this box: ")
    assert helps[-1] == "  3. change the odd note: play A4, an octave down, for A5 in bar 1"


def test_chords_are_found_where_the_tune_has_none(cli):
    """A bare tune is fitted with the chords that are found for it, and that is said."""
    result = cli("fit", EXAMPLES / "the-ice-boat-march.abc")
    assert "chords were found for it" in result.err
    assert "at hand" in result.out
    bare = cli("fit", EXAMPLES / "the-ice-boat-march.abc", "--chords", "none")
    assert "No chords are given." in bare.out.replace("\n", " ")


def test_slow_practice_keeps_the_buttons(cli):
    """At half the tempo the buttons are the same and only the air differs: one fingers at
    the speed one means to reach (common practice, no source)."""
    full, half = (cli("fit", KETTLE, "--buttons", *more).out for more in ((), ("--percent", "50")))
    assert full[full.index("Buttons are") :] == half[half.index("Buttons are") :]
    assert "practised at 50 %" in half.splitlines()[0]
    air = [text[text.index("Air:") : text.index("push only")] for text in (full, half)]
    assert air[0] != air[1]


def test_a_file_of_costs_is_a_profile(cli, tmp_path):
    """A player's own costs are read, and named in the first line."""
    path = tmp_path / "mine.toml"
    path.write_text('profile = "along-the-row"\ncross = 9', encoding="utf-8")
    result = cli("fit", KETTLE, "--profile", path)
    assert result.code == 0
    assert "mine.toml" in result.out.splitlines()[0]
    assert "0 row crossings" in result.out


@pytest.mark.parametrize(
    ("options", "code", "message"),
    [
        (("--box", "D/H"), 1, "error: there is no box 'D/H'\nhint: did you mean D/G?\n"),
        (
            ("--profile", "along"),
            1,
            "error: there is no profile 'along'\nhint: the profiles are along-the-row, cross-row, "
            "basses-first, middle\n",
        ),
        (
            ("--percent", "0"),
            2,
            "error: --percent 0: that is 0 per cent\nhint: give 1 to 1000 per cent\n",
        ),
        (
            ("--dance", "gavotte"),
            1,
            "error: 'gavotte' is not a dance that is known here\nhint: try reel, jig, waltz\n",
        ),
    ],
)
def test_faults_are_told(cli, options, code, message):
    """Each fault ends with what and what to do."""
    result = cli("fit", KETTLE, *options)
    assert (result.code, result.err, result.out) == (code, message, "")


def test_a_tune_without_notes(cli, tmp_path):
    """A tune of rests ends with a message."""
    path = tmp_path / "rest.abc"
    path.write_text("X:1\nT:Rest\nM:4/4\nL:1/8\nK:D\nz8|\n", encoding="utf-8")
    result = cli("fit", path)
    assert result.code == 1
    assert "has no notes" in result.err


def test_out_of_range_at_both_ends(cli, tmp_path):
    """A tune that no box holds says so, and that nothing helps."""
    path = tmp_path / "wide.abc"
    path.write_text("X:1\nT:Wide\nM:4/4\nL:1/8\nK:C\nC,,,4 c''''4|\n", encoding="utf-8")
    result = cli("fit", path)
    assert result.code == 0
    assert "Does not sit on your D/G" in result.out
    assert "nothing: no octave, key or box here has all its notes" in result.out


def test_what_helps_a_very_long_tune(cli, tmp_path):
    """A tune too long to be compared is fingered all the same, and the report says why no
    other key or box is named."""
    path = tmp_path / "long.abc"
    colons = ":" * 99
    path.write_text(f"X:1\nT:Long\nM:4/4\nL:1/8\nK:D\n|{colons}{'ABd^D' * 6}{colons}|\n")
    result = cli("fit", path, "--box", "D")
    assert result.code == 0
    assert "past 2,000 notes or 1,000 bars they are not compared" in " ".join(result.out.split())


FLICKS = (
    "X:1\nT:Flicks\nM:4/4\nL:1/8\nK:D\n"
    '"D"{e}d2f2 {g}f2d2|{eg}d4 {cd}c2A2|"A"{d}c4 {c}e4|"D"{ec}d2 {fga}f2 f4|\n'
)


def test_grace_notes_are_fingered(cli, tmp_path):
    """Grace notes stand in braces before their note, on buttons in its direction; those that are
    not there show the note's own button, or a dash, and are told in words."""
    path = tmp_path / "flicks.abc"
    path.write_text(FLICKS, encoding="utf-8")
    out = cli("fit", path, "--buttons").out
    words = " ".join(out.split())
    assert "graces 7 of 13 on a button in the direction of their note" in words
    assert "E before D in bars 1, 2 and 4: no E on the push, strike D in its place." in words
    assert "D before C# in bar 2: no D on the pull, leave it out." in words
    assert "Braces: grace notes, on a button in the direction of their note;" in words
    rows = {line[:4]: line.split("|")[0].split() for line in reversed(out.splitlines())}
    assert rows["note"] == ["note", "{E}", "D", "F#", "{G}", "F#", "D"]
    assert rows["push"] == ["push", "{6}", "6", "7", "{6'}", "7", "6"]
    assert max(len(line) for line in out.splitlines()) <= 80


def test_without_grace_notes_nothing_is_said_of_them(cli):
    """A tune without grace notes has no line about them."""
    out = cli("fit", KETTLE, "--buttons").out
    assert "graces" not in out
    assert "Braces" not in out
