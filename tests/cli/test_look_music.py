"""The music that `backing look` shows: names in the places of the beats, bars in rows."""

import importlib.util
import random
import re
from pathlib import Path

import pytest

from backing.cli import printing
from backing.cli.bar_names import pitch_name
from backing.cli.close_text import length_name
from backing.cli.music_text import MusicText
from backing.errors import BackingError
from backing.files import read_tune
from backing.music.tune import Tune
from backing.parse.abc import parse_abc, split_book, tune_of

EXAMPLES = Path(__file__).parents[2] / "examples"
TUNES = sorted(path for path in EXAMPLES.glob("*.abc") if "book" not in path.name)
KETTLE = EXAMPLES / "the-lock-keepers-kettle.abc"


def tune_of_body(body: str, metre: str = "4/4", dance: str = "", key: str = "C") -> Tune:
    """A tune with this body, in quavers."""
    named = f"R:{dance}\n" if dance else ""
    return parse_abc(f"X:1\nT:Names\n{named}M:{metre}\nL:1/8\nK:{key}\n{body}\n")


def lines_of(tune: Tune, width: int = 80) -> list[str]:
    """All lines of the music of a tune: chords, notes, an empty one, and so on."""
    text = MusicText(tune)
    return [line for section in tune.sections for line in (*text.section(section, width), "")]


def notes_of(tune: Tune, width: int = 80) -> list[str]:
    """The lines of notes of a tune."""
    return lines_of(tune, width)[1::3]


@pytest.mark.parametrize(
    ("body", "metre", "dance", "names"),
    [
        ("d2fe d2A2", "4/4", "", "d  f e  d  A"),
        ("dfed dABc", "4/4", "reel", "d f e d  d A B c"),
        ("d2fe d4", "4/4", "reel", "d . f e  d"),
        ("ded BGB", "6/8", "", "d e d  B G B"),
        ("A2F d3", "6/8", "", "A . F  d"),
        ("de/f/ g2", "2/4", "", "d . e f  g"),
        ("A3 B", "2/4", "", "A  . B"),
        ("G>B d<B", "2/4", "", "G . . B  d B . ."),
        ("G6", "3/4", "", "G  .  ."),
        ("(3GAB d2", "2/4", "", "(3 G A B)  d"),
        ("(3G2A2B2", "2/4", "", "(3 G A B)  ."),
        ("(3:2:2G2A d2", "2/4", "", "(3 G . A)  d"),
        ("d2(3GAB d4", "4/4", "reel", "d (3 G A B)  d"),
        ("z2 d2", "2/4", "", "-  d"),
        ("z4|d4", "2/4", "", "-  . | d  ."),
        ("x4|d4", "2/4", "", "-  . | d  ."),
        ("{e}d2 {/gf}e2", "2/4", "", "{e}d  {gf}e"),
        ("[DF]2 [Ac']2", "2/4", "", "D+F  A+c'"),
        ("d2-d2", "2/4", "", "d  ."),
        ("[D-F]2 [DA]2", "2/4", "", "D+F  .+A"),
        ("C,2 c''2", "2/4", "", "C,  c''"),
        ("^f2 _B2", "2/4", "", "f#  Bb"),
        ("eAB", "3/8", "", "e A B"),
        ("ded cB", "5/8", "", "d e d  c B"),
        ("ABcd efg", "none", "", "A B  c d  e f  g"),
        ('G2"C"G2', "4/8", "", "G  G"),
        ('"G"c4', "2/4", "", "c  ."),
    ],
)
def test_names_in_their_places(body, metre, dance, names):
    """A group of names is a felt beat, its names share it evenly, and a dot lets one go on; a
    triplet stands in brackets, notes struck together are joined with +."""
    (line,) = notes_of(tune_of_body(f"{body}|]", metre, dance))
    assert line.removeprefix("| ").removesuffix("||").rstrip() == names


def test_a_chord_inside_a_held_note():
    """A chord inside a held note has a place of its own, under which the note goes on; inside a
    triplet it stands over the name that is heard then."""
    text = MusicText(tune_of_body('"C"c3"G"d "Am"e4|"F"f4-"G7"f4|(3"C"c2"G"d2e2 c4|', "4/4"))
    upper, lower = list(text.bars([0, 1, 2], 80))[:2]
    assert upper == "1 C    G  Am   2 F     G7   3 C    G"
    assert lower == "| c  . d  e  . | f  .  .  . | (3 c d e)  .  c  . |"


def test_a_tie_over_the_bar_line():
    """A note that is held over the bar line goes on in the next bar."""
    tune = tune_of_body("c8-|c4 d4|", "4/4", "reel")
    assert notes_of(tune) == ["| c  . | .  d |"]


def test_bars_of_other_lengths():
    """A pickup shows what it has, and a bar that is too long has more beats."""
    tune = tune_of_body("GA|B4 c4 d4|e2|]", "4/4")
    assert notes_of(tune) == ["| G A | B  .  c  .  d  . | e ||"]


def test_signs_of_the_form():
    """Repeats, endings, a new metre and signs to jump by stand at their bars, and a bar that a
    repeat splits has one number."""
    tune = tune_of_body("|:G2|!segno!A8|1 B6:|2 c8||[M:3/4]G2|d6!D.S.!|]", "4/4", "reel")
    assert lines_of(tune) == [
        "0    1 segno 2",
        "|: G | A  .  |1) B  . :|",
        "",
        "             3",
        "             |2) c  . ||",
        "",
        "  (3/4) 4       D.S.",
        "| G     | d  .  .    ||",
        "",
    ]


@pytest.mark.parametrize("example", TUNES, ids=lambda path: path.stem)
@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_nothing_is_lost_and_nothing_too_wide(example, width):
    """Whatever the width, each bar's number stands above its line once, each note struck is
    named once, and no line is wider."""
    tune = read_tune(example).tune
    lines = lines_of(tune, width)
    assert max(map(len, lines)) <= width
    numbers = [int(n) for line in lines[::3] for n in re.findall(r"(?:^| )(\d+)(?= |$)", line)]
    assert numbers == [bar.number for bar in tune.bars if not (bar.pickup and bar.number)]
    named = [
        name.rstrip(")")
        for line in lines[1::3]
        for name in re.sub(r"\{[^}]*\}|\(\d|\d\)|[|:]", " ", line).split()
        if name != "."
    ]
    struck = [
        "+".join(map(pitch_name, note.pitches)) or "-" for bar in tune.melody.bars for note in bar
    ]
    assert named == struck


def test_a_bar_wider_than_the_window():
    """A bar that is wider than the window goes on in the next lines, beat by beat."""
    tune = tune_of_body('"Am"cdef gabc\' "G"d\'c\'ba gfed|', "4/2")
    assert list(MusicText(tune).bars([0], 30)) == [
        "1 Am",
        "| c d e f  g a b c'",
        "",
        "  G",
        "  d' c' b a  g f e d |",
    ]
    assert list(MusicText(tune).bars([0], 12))[:3] == ["1 Am", "| c d e f", "  g a b c'"]
    assert list(MusicText(tune).bars([0], 1))[1] == "| c"


@pytest.mark.parametrize("width", [8, 20, 33])
def test_narrow_windows(width):
    """In a narrow window no line is wider, but for one name with its bar lines, and every name
    and chord is there."""
    for path in TUNES[-4:]:
        tune = read_tune(path).tune
        text = MusicText(tune)
        for index in range(len(tune.bars)):
            lines = list(text.bars([index], width))
            assert max(map(len, lines)) <= width + 3
            words = " ".join(lines).split()
            assert sorted(words) == sorted(" ".join(text.bars([index], 200)).split())


def test_the_key():
    """At the foot stands what the signs mean that were used, and no others."""
    plain = MusicText(tune_of_body("cdef gabc|", "4/4", "reel")).key()
    assert plain == (
        "C to B from middle C up, c to b an octave higher; names between two gaps share a beat "
        "evenly"
    )
    full = MusicText(tune_of_body("C,2[ce]2 {d}c'z (3cde|", "4/4", "reel")).key()
    assert full.removeprefix("C to B from middle C up, c to b an octave higher; ") == (
        "c' above that; B, below; names between two gaps share a beat evenly; "
        "- rest; D+A struck together; {c} grace note; (3 A B c) triplet"
    )


# -- the command -------------------------------------------------------------------------


CLOSE = """\
1. The Lock-Keeper's Kettle
  jig, 6/8, D major

5 D              6 G      D
| d f# d  A F# A | B G B  A . f# |

bar 5, A part
  beat 1: D chord, D5 F#5 D5 quavers
  beat 2: A4 F#4 A4 quavers

bar 6, A part
  beat 1: G chord, B4 G4 B4 quavers
  beat 2: D chord, A4 crotchet, F#5 quaver
"""


def test_bars_from_close_by(cli):
    """`--bars` shows bars as they stand in the tune, then beat by beat, with octaves and lengths
    in words."""
    result = cli("look", KETTLE, "--bars", "5-6")
    assert (result.code, result.out, result.err) == (0, CLOSE, "")


def test_the_pickup_from_close_by(cli):
    """The pickup is bar 0."""
    result = cli("look", KETTLE, "--bars", "0")
    assert result.out.endswith("0\n|: A |\n\npickup\n  A4 quaver\n")


def test_a_part_from_close_by(cli):
    """`--part` shows a part once through, with the ending that is asked for."""
    result = cli("look", EXAMPLES / "the-lamplighters-round.abc", "--part", "a", "--ending", "2")
    bars = re.findall(r"^(?:bar (\d+)|pickup)", result.out, re.MULTILINE)
    assert bars == ["", "1", "2", "3", "4", "5", "6", "9", "10"]
    assert "| e  .  c |2) d  c A  F# |" in result.out
    assert "bar 9, A part, time 2\n  beat 1: D7 chord, D5 crotchet\n" in result.out
    assert "bar 10, A part, time 2\n  beat 1: G chord, G4 minim\n  beat 2: goes on\n" in result.out


def test_notes_in_words(cli, tmp_path):
    """Triplets, dots, ties, rests, grace notes, double stops, signs and texts in words."""
    path = tmp_path / "words.abc"
    path.write_text(
        "X:1\nT:Words\nM:4/4\nL:1/8\nK:C\nd|"
        '"G"(3GAB "C"d>e z2 [D-A]2|[DB]2 {ef}.g2 ~a2 "^slow"b2-|b8|(5:4:5A/B/c/d/e/ z6|\n',
        encoding="utf-8",
    )
    result = cli("look", path, "--bars", "1-4")
    assert result.out.split("\n\n")[3:] == [
        "bar 1, A part\n"
        "  beat 1: G chord, G4 A4 B4 triplet quavers\n"
        "  beat 2: C chord, D5 dotted quaver, E5 semiquaver\n"
        "  beat 3: crotchet rest\n"
        "  beat 4: D4+A4 crotchet",
        "bar 2, A part\n"
        "  beat 1: B4 (D4 held on) crotchet\n"
        "  beat 2: G5 (grace E5 F5, staccato) crotchet\n"
        "  beat 3: A5 (roll) crotchet\n"
        '  beat 4: B5 ("^slow") crotchet',
        "bar 3, A part\n  beat 1: B5 (held on) semibreve\n  beat 2: goes on\n  beat 3: goes on\n"
        "  beat 4: goes on",
        "bar 4, A part\n  beat 1: A4 B4 C5 D5 E5 5-tuplet semiquavers\n"
        "  beat 2: dotted minim rest\n  beat 3: goes on\n  beat 4: goes on\n",
    ]


@pytest.mark.parametrize(
    ("length", "name"),
    [("1/1", "semibreve"), ("3/4", "dotted minim"), ("7/16", "double dotted crotchet"),
     ("1/64", "hemidemisemiquaver"), ("2/1", "breve"), ("5/8", "5/8 of a semibreve")],
)  # fmt: skip
def test_lengths_in_words(length, name):
    """Lengths have the names that notes have (common practice, no source)."""
    from fractions import Fraction

    assert length_name(Fraction(length)) == name


@pytest.mark.parametrize(
    ("arguments", "code", "message"),
    [
        (["--bars", "30"], 1, "there is no bar 30 here\nhint: the tune has bars 0 to 16"),
        (["--bars", "6-5"], 1, "bars 6-5 run backwards"),
        (["--bars", "x"], 2, "--bars 'x' are no bars"),
        (["--part", "Q"], 1, "there is no section 'Q'"),
        (["--part", "A", "--ending", "3"], 1, "section A has no ending 3"),
        (["--ending", "1"], 2, "--ending goes with --part"),
        (["--bars", "1", "--part", "A"], 2, "give one of them, not both"),
    ],
)
def test_faults(cli, arguments, code, message):
    """Bars and parts that are not there are refused in the words of `make`."""
    result = cli("look", KETTLE, *arguments)
    assert (result.code, result.out) == (code, "")
    assert message in result.err
    made = cli("make", KETTLE, *arguments, "-o", "x.mid")
    assert made.err == result.err


@pytest.mark.parametrize(("columns", "width"), [(40, 40), (7, 20), (200, 200)])
def test_the_width_of_the_window(cli, monkeypatch, columns, width):
    """To a terminal lines are as wide as the window, though at least 20 columns; elsewhere 80."""
    assert printing.window_width() == 80
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    monkeypatch.setenv("COLUMNS", str(columns))
    assert printing.window_width() == width
    result = cli("look", EXAMPLES / "the-towpath-mare.abc")
    assert max(map(len, result.out.splitlines())) <= width


@pytest.mark.slow
def test_a_collection():
    """A seeded sample of 150 tunes of the collections that the music21 package carries is shown
    at 80 and 40 columns, with every bar and no line too wide."""
    found = importlib.util.find_spec("music21")
    if found is None or not found.submodule_search_locations:
        pytest.skip("the music21 package is not installed")
    corpus = Path(found.submodule_search_locations[0], "corpus")
    texts = [
        text
        for name in ("ryansMammoth", "airdsAirs", "miscFolk", "essenFolksong")
        for path in sorted((corpus / name).glob("*.abc"))[:40]
        for text in split_book(path.read_text(encoding="utf-8", errors="replace"))
    ]
    for text in random.Random(14).sample(texts, 150):
        try:
            tune = tune_of(text)
        except BackingError:
            continue
        for width in (40, 80):
            lines = lines_of(tune, width)
            assert max(map(len, lines)) <= width, text.title
            words = " ".join(lines).split()
            assert len(words) > len(list(tune.notes())) + len(tune.bars), text.title
