"""The library: what a program does with `import backing` alone, one line each."""

import ast
import inspect
import os
import re
import shutil
import subprocess
import sys
from fractions import Fraction
from io import BytesIO
from pathlib import Path

import mido
import pytest

import backing

ROOT = Path(__file__).parent.parent
EXAMPLES = ROOT / "examples"
HOME = Path(backing.__file__)
BARE = "X:1\nT:The Dripping Gate\nR:polka\nM:2/4\nL:1/8\nK:G\nGB dB|ce d2|GB dB|cA G2:|\n"
CHORDED = BARE.replace("GB dB|ce", '"G"GB dB|"C"ce').replace("cA", '"D"cA')
#: What `backing make --box D/G --percent 60` does: tune, what is asked for, making, file.
SIX_LINES = """\
tune = backing.read_tune("tune.abc").tune
plan = backing.Plan((backing.Step(tempo=Fraction(60, 100)),))
asked = backing.Asked(plan, styles=backing.StyleShelf(), box=backing.load_box("D/G"))
performance = backing.performance_of(backing.make_backing(tune, asked))
backing.save("loop.mid", backing.render_midi(performance))
"""


@pytest.fixture
def tune() -> backing.Tune:
    """Eight bars as played, with chords."""
    return backing.parse_abc(CHORDED)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A folder of one's own to be in."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def chords_of(tune):
    """The chord symbols, bar by bar."""
    return [[symbol.text for symbol in bar.chords] for bar in tune.bars]


def tones_of(track):
    """The pitch classes that a track sounds, C = 0."""
    return {pitch % 12 for event in track.events for pitch in event.pitches}


def run(code, folder):
    """A fresh Python that runs this code."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.run(
        [sys.executable, "-c", code],
        cwd=folder, env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip


# -- reading ------------------------------------------------------------------------


@pytest.mark.slow
def test_a_tune_is_read_from_a_file(folder):
    """read_tune gives the tune of an ABC, MIDI or MusicXML file: the same notes."""
    tune = backing.parse_abc(BARE)
    Path("a.abc").write_text(BARE, encoding="utf-8")
    backing.save(Path("a.musicxml"), backing.render_musicxml(tune).encode())
    straight = backing.perform(
        backing.arrange(tune, backing.load_style("drone")), backing.Plan(), tune
    )
    backing.save(Path("a.mid"), backing.render_midi(straight))
    read = {
        suffix: backing.read_tune(Path(f"a.{suffix}")).tune for suffix in ("abc", "musicxml", "mid")
    }
    assert read["abc"] == tune
    sounds = [note.pitches[0].midi for note in tune.notes()]
    assert [note.pitches[0].midi for note in read["musicxml"].notes()] == sounds
    assert [n.pitches[0].midi for n in read["mid"].notes() if not n.rest] == sounds * 2


@pytest.mark.slow
def test_the_bytes_of_a_file_are_read_without_one():
    """parse_midi and parse_musicxml read what render_midi and render_musicxml made."""
    tune = backing.parse_abc(BARE)
    score = backing.parse_musicxml(backing.render_musicxml(tune).encode())
    assert (score.title, len(score.bars)) == ("The Dripping Gate", 4)
    straight = backing.perform(
        backing.arrange(tune, backing.load_style("drone")), backing.Plan(), tune
    )
    assert backing.parse_midi(backing.render_midi(straight)).key == backing.parse_key("G")


def test_a_book_is_read_tune_by_tune():
    """read_book lists the tunes of a book, and tune_of reads one of them."""
    texts, _ = backing.read_book(EXAMPLES / "canal-book.abc")
    assert len(texts) > 1
    assert [backing.tune_of(text).title for text in texts] == [text.title for text in texts]


def test_a_file_is_named_by_a_text_or_a_path(folder, tune):
    """What reads or saves takes the name of a file as it is typed, or a path: the same file."""
    backing.save("a.abc", BARE.encode())
    assert backing.read_tune("a.abc") == backing.read_tune(Path("a.abc"))
    assert backing.read_book("a.abc") == backing.read_book(folder / "a.abc")
    backing.save(str(folder / "a.abc"), CHORDED.encode())
    assert backing.read_tune("a.abc").tune == tune
    with pytest.raises(backing.FileError, match=r"no\.abc"):
        backing.read_tune("no.abc")


def test_the_bars_are_unfolded(tune):
    """unfold gives the bars in the order in which they are played."""
    assert [bar.index for bar in backing.unfold(tune)] == [0, 1, 2, 3] * 2
    assert [bar.time for bar in backing.unfold(tune)] == [1] * 4 + [2] * 4


# -- chords, key, box -----------------------------------------------------------------


def test_chords_are_found():
    """suggest_chords finds a chord for every bar, with_chords writes them into the tune."""
    bare = backing.parse_abc(BARE)
    harmony = backing.suggest_chords(bare, backing.Palette.PLAIN)
    found = backing.with_chords(bare, harmony)
    assert not bare.has_chords
    assert chords_of(found)[0] == ["G"]
    assert {suggestion.slot.bar for suggestion in harmony.suggestions} == {0, 1, 2, 3}


def test_a_tune_is_moved_to_a_key(tune):
    """move_tune moves notes, chords and key by the interval to another key."""
    moved = backing.move_tune(tune, backing.interval_to_key(tune.key, backing.parse_key("D")))
    assert str(moved.key) == "D major"
    assert chords_of(moved)[0] == ["D"]
    assert [n.pitches[0].midi for n in moved.notes()] == [
        n.pitches[0].midi - 5 for n in tune.notes()
    ]


def test_a_tune_is_moved_to_a_box(tune):
    """move_to_box moves a tune so that the same buttons sound it: from D/G to G/C a fourth up."""
    moved = backing.move_to_box(tune, backing.load_box("D/G"), backing.load_box("G/C"))
    assert (moved.semitones % 12, str(moved.tune.key)) == (5, "C major")


def test_a_melody_is_fingered(tune):
    """finger gives each note a button that sounds it, in the direction that is said."""
    box = backing.load_box("D/G")
    fingering = backing.finger(backing.line_of(tune), box, backing.load_costs("cross-row"))
    assert len(fingering.notes) == 2 * len(list(tune.notes()))
    for note in fingering.notes:
        assert [press.midi for press in note.presses] == list(note.moment.pitches)
        assert {press.direction for press in note.presses} == {note.direction}


def test_a_tune_is_fitted_to_a_box(tune):
    """fit says whether every note is on the box, and names those that are not."""
    line, low = backing.line_of(tune), backing.parse_abc("X:1\nK:G\nL:1/8\nG,,2 G2|\n")
    assert backing.fit(line, backing.load_box("D/G")).fits
    missing = backing.fit(backing.line_of(low), backing.load_box("D/G")).missing
    assert [str(note.pitch) for note in missing] == ["G2"]


@pytest.mark.slow
def test_boxes_and_styles_are_listed():
    """Every box and every style that is listed can be loaded, under its name."""
    assert [backing.load_box(name).name for name in backing.box_names()] == backing.box_names()
    shelf = backing.StyleShelf()
    assert [shelf[name].name for name in backing.style_names()] == backing.style_names()


# -- arranging, performing, rendering ---------------------------------------------------


def test_a_tune_is_arranged(tune):
    """arrange unfolds a tune into melody, bass and chords; the thirds go, if asked."""
    style = backing.load_style("polka")
    whole = backing.arrange(tune, style)
    assert [track.role for track in whole.tracks] == ["melody", "bass", "chords"]
    assert (len(whole.bars), whole.stop) == (8, 4)
    bare = backing.arrange(tune, style, backing.Manner(thirds=False))
    assert tones_of(whole.tracks[2]) == {7, 11, 2, 0, 4, 6, 9}  # of G, C and D major
    assert tones_of(bare.tracks[2]) == {7, 2, 0, 9}


def test_a_plan_is_performed(tune):
    """perform lays a plan end to end: bars, times, tempo, what is muted."""
    step = backing.Step(
        backing.Bars(1, 2),
        tempo=backing.FeltBeats(Fraction(60)),
        times=3,
        muted=frozenset({backing.Role.MELODY}),
        count_in=1,
    )
    piece = backing.arrange(tune, backing.load_style("polka"))
    performance = backing.perform(piece, backing.Plan((step,)), tune)
    assert (performance.start, performance.stop) == (Fraction(-1, 2), 3)
    assert performance.seconds == 14.0  # seven bars of two beats, a beat a second
    assert performance.track(backing.Role.MELODY).muted


def test_a_loop_has_no_count_in(tune):
    """perform_seamless is a step from its first bar to where it comes again."""
    piece = backing.arrange(tune, backing.load_style("polka"))
    loop = backing.perform_seamless(piece, backing.Step(backing.OneSection("A")), tune)
    assert (loop.start, loop.stop) == (0, 2)


def test_a_backing_is_made_for_a_box(tune):
    """make_backing takes the style for the dance, and only what a box has under the melody."""
    asked = backing.Asked(styles=backing.StyleShelf(), box=backing.load_box("D/G"))
    made = backing.make_backing(tune, asked)
    assert made.style.name == "polka"
    assert made.fit is not None
    assert made.fit.fits
    assert backing.performance_of(made).title == "The Dripping Gate"
    assert backing.seamless_of(made).start == 0


def test_without_a_style_there_must_be_some_to_choose_from(tune):
    """Neither a style nor a shelf: a PracticeError that says what to give."""
    with pytest.raises(backing.PracticeError, match="no style is asked for") as caught:
        backing.make_backing(tune, backing.Asked())
    assert "StyleShelf" in caught.value.hint


def test_midi_and_abc_are_saved(folder, tune):
    """save writes a MIDI file with every track, and an ABC file that reads as the same tune."""
    piece = backing.arrange(tune, backing.load_style("polka"))
    data = backing.render_midi(backing.perform(piece, backing.Plan(), tune), a4=442.0)
    backing.save(Path("polka.mid"), data)
    tracks = mido.MidiFile(file=BytesIO(Path("polka.mid").read_bytes())).tracks
    assert [track.name for track in tracks[1:]] == ["melody", "bass", "chords", "click"]
    backing.save(Path("polka.abc"), backing.render_abc(tune).encode())
    assert backing.read_tune(Path("polka.abc")).tune == tune


@pytest.mark.slow
def test_sound_is_saved(folder, tune):
    """save_sound writes a performance as a sound file that lasts as long, and says how loud."""
    piece = backing.arrange(tune, backing.load_style("polka"))
    step = backing.Step(backing.Bars(1, 1))
    loop = backing.perform_seamless(piece, step, tune)
    saved = backing.save_sound(Path("bar.wav"), loop, rate=8000, tremolo=8.0, seamless=True)
    assert saved.seconds == pytest.approx(loop.seconds, abs=1 / 8000)
    assert -40 < saved.loudness < 0
    assert Path("bar.wav").stat().st_size > 4 * 8000 * saved.seconds


@pytest.mark.slow
def test_sound_has_its_own_tags_and_its_bounds(folder, tune):
    """Given tags stand in the file; a tuning that no box has is refused, and nothing written."""
    piece = backing.arrange(tune, backing.load_style("drone"))
    loop = backing.perform_seamless(piece, backing.Step(backing.Bars(1, 1)), tune)
    backing.save_sound(Path("bar.flac"), loop, rate=8000, tags=backing.Tags("Bar one"))
    assert b"Bar one" in Path("bar.flac").read_bytes()
    for wrong in ({"a4": 390.0}, {"tremolo": 31.0}):
        with pytest.raises(backing.PracticeError):
            backing.save_sound(Path("wrong.wav"), loop, **wrong)
    with pytest.raises(backing.FileError):
        backing.save_sound(Path("wrong.txt"), loop)
    assert [path.name for path in folder.iterdir()] == ["bar.flac"]


@pytest.mark.slow
def test_sound_is_saved_under_a_text(folder, tune):
    """save_sound takes the name of a file as it is typed."""
    piece = backing.arrange(tune, backing.load_style("drone"))
    loop = backing.perform_seamless(piece, backing.Step(backing.Bars(1, 1)), tune)
    backing.save_sound("bar.flac", loop, rate=8000)
    assert Path("bar.flac").read_bytes().startswith(b"fLaC")
    with pytest.raises(backing.FileError, match=r"no\.sf2"):
        backing.save_sound("font.flac", loop, rate=8000, font="no.sf2")


@pytest.mark.parametrize(
    ("times", "rate", "said"), [(1000, 8000, "2.2 hours"), (850, 192000, "larger than 4 GB")]
)
def test_sound_has_an_end(folder, tune, times, rate, said):
    """save_sound writes up to two hours, and no more than a WAV file can hold; past that
    nothing is made."""
    piece = backing.arrange(tune, backing.load_style("drone"))
    step = backing.Step(backing.Bars(1, 4), tempo=backing.FeltBeats(Fraction(60)), times=times)
    long = backing.perform(piece, backing.Plan((step,)), tune)
    with pytest.raises(backing.FileError, match=said):
        backing.save_sound("long.wav", long, rate=rate, progress=lambda done: pytest.fail("made"))
    assert list(folder.iterdir()) == []


def test_a_fault_says_what_to_do(folder):
    """What a player can mend is a BackingError with a hint, whatever its kind."""
    for call, kind, hint in (
        (lambda: backing.load_box("D/H"), backing.BoxError, "did you mean D/G?"),
        (lambda: backing.load_style("polca"), backing.StyleError, "did you mean polka?"),
        (lambda: backing.parse_abc("hm"), backing.TuneError, "X:1"),
        (lambda: backing.read_tune(Path("no.abc")), backing.FileError, ""),
    ):
        with pytest.raises(kind) as caught:
            call()
        assert isinstance(caught.value, backing.BackingError)
        assert hint in caught.value.hint


# -- the promise --------------------------------------------------------------------


@pytest.mark.slow
def test_what_make_does_takes_six_lines(folder):
    """Six lines make the very file that `backing make --box D/G --percent 60` makes."""
    Path("tune.abc").write_text(CHORDED, encoding="utf-8")
    assert len(SIX_LINES.splitlines()) <= 6
    exec(SIX_LINES, {"backing": backing, "Fraction": Fraction})
    words = ["make", "tune.abc", "--box", "D/G", "--percent", "60", "-o", "make.mid"]
    code = f"import sys; sys.argv[1:] = {words}; from backing.__main__ import start; start()"
    made = run(code, folder)
    assert made.returncode == 0, made.stderr
    assert Path("make.mid").read_bytes() == Path("loop.mid").read_bytes()


def test_the_docstring_shows_those_lines():
    """The lines in the package's docstring are those that are tried."""
    shown = [line[4:] for line in (backing.__doc__ or "").splitlines() if line.startswith("    ")]
    assert shown == SIX_LINES.replace("tune.abc", "reel.abc").splitlines()


@pytest.mark.slow
def test_the_readme_runs(folder, capsys):
    """The code of the README runs in a folder that has the examples, and writes its files."""
    shutil.copytree(EXAMPLES, "examples")
    (code,) = re.findall(r"```python\n(.*?)```", (ROOT / "README.md").read_text("utf-8"), re.S)
    exec(code, {})
    assert capsys.readouterr().out == "[]\n"
    made = {path.name for path in folder.iterdir() if path.is_file()}
    assert made == {"for-my-pupil.abc", "slow.mid", "slow.mp3"}


# -- the lists of names ---------------------------------------------------------------


def names_for_types():
    """The names that a type checker sees, with the modules that they come from."""
    tree = ast.parse(HOME.read_text(encoding="utf-8"))
    return {
        alias.name: node.module
        for block in tree.body
        if isinstance(block, ast.If)
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }


def test_the_lists_of_names_agree():
    """`__all__`, `dir`, the table of homes and the imports for type checkers say the same."""
    homes = {name: module for module, names in backing._HOMES.items() for name in names}
    assert homes == names_for_types()
    assert sorted(homes) == sorted(backing.__all__) == dir(backing)
    assert len(homes) == sum(len(names) for names in backing._HOMES.values())


def test_a_name_hides_no_part():
    """No public name is also a part of the package, whose import would hide it."""
    parts = {path.stem for path in HOME.parent.iterdir()}
    assert parts.isdisjoint(backing.__all__)


@pytest.mark.parametrize("name", backing.__all__)
def test_a_name_is_documented(name):
    """Every name is what it is called, and says in a sentence of its own what it is."""
    thing = getattr(backing, name)
    said = vars(thing).get("__doc__") if inspect.isclass(thing) else thing.__doc__
    assert thing.__name__ == name
    assert said
    assert not said.startswith(f"{name}(")  # what Python makes up for a class without words
    assert re.match(r"[A-Z\"`].*?[.:]", said.strip(), re.S)


@pytest.mark.parametrize("name", backing.__all__)
def test_a_function_is_typed(name):
    """Every parameter and every result has a type."""
    thing = getattr(backing, name)
    if not inspect.isfunction(thing):
        return
    signature = inspect.signature(thing)
    assert signature.return_annotation is not inspect.Signature.empty
    assert all(p.annotation is not p.empty for p in signature.parameters.values())


def test_an_unknown_name_is_refused():
    """A name that is not there is an AttributeError, which says so."""
    with pytest.raises(AttributeError, match="backing has no 'arange'"):
        _ = backing.arange


@pytest.mark.slow
def test_nothing_loads_before_it_is_asked_for(tmp_path):
    """`import backing` loads no module of ours, and reading ABC loads nothing that sounds."""
    code = (
        "import sys, backing; print([m for m in sys.modules if m.startswith('backing.')]);"
        "backing.parse_abc('X:1\\nK:G\\nG2|'); print('numpy' in sys.modules)"
    )
    assert run(code, tmp_path).stdout == "[]\nFalse\n"


def test_the_types_are_shipped():
    """The mark of a typed package (PEP 561) lies in the package, also once it is installed."""
    assert (HOME.parent / "py.typed").is_file()


PROGRAM = """\
from typing import assert_type
import backing
tune = backing.read_tune("a.abc").tune
performance = backing.performance_of(backing.make_backing(tune, backing.Asked()))
assert_type(performance, backing.Performance)
assert_type(backing.save_sound("a.wav", performance).seconds, float)
assert_type(backing.fit(backing.line_of(tune), backing.load_box("D/G")), backing.Fit)
backing.save("a.mid", backing.render_abc(tune))
backing.pervorm
"""


@pytest.mark.slow
def test_a_type_checker_knows_the_types(tmp_path):
    """mypy knows what each call gives, and finds a wrong argument and a mistyped name."""
    (tmp_path / "program.py").write_text(PROGRAM, encoding="utf-8")
    command = "from mypy.__main__ import console_entry; console_entry()"
    code = f"import sys; sys.argv[1:] = ['--strict', '--no-error-summary', 'program.py']; {command}"
    said = re.sub(r"program\.py:(\d+): ", r"\1 ", run(code, tmp_path).stdout)
    assert [line.split("  [")[0] for line in said.splitlines()] == [
        '8 error: Argument 2 to "save" has incompatible type "str"; expected "bytes"',
        '9 error: Module has no attribute "pervorm"; maybe "perform"?',
    ]


@pytest.mark.slow
def test_print(tune, folder):
    """A tune on paper for two boxes: each page has its box in the file's description."""
    boxes = [backing.load_box("D/G"), backing.load_box("G/C")]
    pages = [backing.SheetPage(*page) for page in backing.handout(tune, boxes)]
    sheet = backing.render_sheet(pages, backing.SheetLook())
    backing.save("gate.pdf", sheet.files[0])
    assert Path("gate.pdf").read_bytes().startswith(b"%PDF-")
    assert b"for D/G and G/C" in sheet.files[0]


def test_times_through(tune):
    """Played three times a tune stops once; another style may come each time."""
    turns = backing.StyleTurns((backing.load_style("polka"), backing.load_style("light")))
    faces = backing.arrange_faces(tune, turns)
    step = backing.Step(times=3, count_in=0, close=backing.Close.HELD)
    performance = backing.perform(faces, backing.Plan((step,)), tune)
    chords = performance.tracks[2].events
    assert chords[-1].stop == performance.stop
    assert len({e.length for e in chords}) > 1
