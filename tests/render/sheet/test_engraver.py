"""The engraved lines: as many notes, rests, bars and verses as the tune has, and nothing else."""

import re
import sys
import warnings
from collections.abc import Callable, Sequence
from io import BytesIO

import pytest

from backing.box.under_notes import under_notes, with_buttons
from backing.music.tune import Tune
from backing.parse.abc import parse_abc
from backing.render.musicxml import render_musicxml
from backing.render.sheet.engraver import engrave
from backing.render.sheet.lines import System
from backing.render.sheet.look import SheetLook, SheetPage
from backing.render.sheet.mei import StaffMarks
from backing.render.sheet.music_text import note_drawing, with_text_fonts
from backing.render.sheet.staff import music_of

WIDTH = 1850
PLAIN = StaffMarks()


def engraved(body: str, marks: StaffMarks = PLAIN, head: str = "") -> str:
    """The drawings of a tune with this body, one after the other."""
    tune = parse_abc(f"X:1\nT:Engraved\nM:4/4\nL:1/8\n{head}K:D\n{body}\n")
    return drawn(engrave(tune, marks, WIDTH))


def drawn(systems: Sequence[System]) -> str:
    """All drawings together."""
    return "".join(system.svg for system in systems)


def counted(svg: str, name: str) -> int:
    """How many elements of a class a drawing has."""
    return len(re.findall(rf'class="{name}[" ]', svg))


def texts(svg: str) -> list[str]:
    """The texts of a drawing, each as it is read."""
    found = re.findall(r"<text [^>]*>(.*?)</text>", svg, re.DOTALL)
    return ["".join(re.findall(r">([^<>]*\S[^<>]*)</tspan>", text)) for text in found]


@pytest.mark.slow
def test_note_heads_bars_and_rests(tunes: dict[str, Tune]):
    """The drawings have a note head for each written pitch, grace notes among them, a rest for
    each rest, a measure for each bar."""
    for title, tune in tunes.items():
        if title in ("Without Metre", "A Bar That Lasts"):  # cut, tied
            continue
        svg = drawn(engrave(tune, StaffMarks(), WIDTH))
        notes = [note for voice in tune.voices for bar in voice.bars for note in bar]
        heads = sum(len(n.pitches) + sum(len(g.pitches) for g in n.graces) for n in notes)
        assert counted(svg, "notehead") == heads, title
        assert counted(svg, "measure") == len(tune.bars), title


@pytest.mark.slow
def test_free_bars_lose_nothing_when_they_are_cut(tunes: dict[str, Tune]):
    """A bar of free metre that is wider than a line is cut into lines that have all its notes."""
    tune = tunes["Without Metre"]
    systems = engrave(tune, StaffMarks(), WIDTH)
    assert len(systems) > len(tune.bars)
    heads = sum(len(note.pitches) for note in tune.notes())
    assert counted(drawn(systems), "notehead") == heads


@pytest.mark.slow
def test_a_syllable_for_every_word_and_button(tunes: dict[str, Tune], page):
    """Words first, then the two rows of buttons: no syllable of the tune and no button under it
    is left out."""
    for title in ("Three Verses and a Chorus", "The Towpath Mare", "Rests under Verses"):
        one = page(tunes[title])
        tune = with_buttons(one.tune, one.fit.fingering)
        svg = drawn(engrave(tune, StaffMarks(), WIDTH))
        wanted = sum(1 for note in tune.notes() for word in note.lyrics if word.strip())
        assert counted(svg, "syl") >= wanted
        buttons = [s for bar in under_notes(one.tune, one.fit.fingering) for u in bar for s in u]
        here = texts(svg)
        for button in set(filter(None, buttons)):
            assert here.count(button) >= buttons.count(button)


def test_chords_as_they_are_named():
    """Chord letters are the symbols as they are written, with printed accidentals."""
    names = ["G7sus4", "F♯m7", "B♭", "A7/C♯", "Cadd9", "N.C."]
    body = '"G7sus4"d2"F#m7"d2"Bb"d2"A7/C#"d2|"Cadd9"d4"N.C."d4|'
    here = texts(with_text_fonts(engraved(body)))
    assert [text for text in here if text in names] == names


def test_bar_numbers():
    """Every bar but a pickup has its number, and a hard bar's stands in a box."""
    svg = engraved("d2|d8|e8|f8|", StaffMarks(boxed=frozenset({2})))
    assert [text for text in texts(svg) if text.isdecimal()] == ["1", "2", "3"]
    assert counted(svg, "dir") == 3
    boxed = re.findall(r'class="dir">\s*<rect', svg)
    assert len(boxed) == 1


def test_verse_numbers_stay():
    """The number before a verse's first word is printed."""
    assert "1." in " ".join(texts(engraved("d4e4|\nw: 1.~One two")))


def test_names_of_rows_where_all_is_push(page: Callable[..., SheetPage]):
    """Where a tune has buttons on one line alone both lines have their names, one below the
    other."""
    tune = parse_abc("X:1\nT:Push\nM:4/4\nL:1/8\nK:D\nd4f4|a8|\n")
    svg = "".join(music_of(page(tune), SheetLook(), "p", 200.0).drawings.values())
    labels = r'class="label">\s*<text x="\d+" y="(\d+)".*?>(push|pull)'
    places = {name: y for y, name in re.findall(labels, svg, re.DOTALL)}
    assert set(places) == {"push", "pull"}
    assert int(places["push"]) < int(places["pull"])


def test_the_tempo_in_a_tune():
    """A change of tempo is drawn as its note, dot and number; no letter stands in a font that is
    not ours."""
    svg = engraved("d8|[Q:3/8=44]d8|")
    mended = with_text_fonts(svg)
    assert 'font-family="Leipzig"' not in mended
    assert not re.search("[\ue000-\uf8ff]", mended)
    assert any(text.replace("\u00a0", " ").strip() == "= 44" for text in texts(mended))
    assert mended.count("<path transform=") - svg.count("<path transform=") == 2


@pytest.mark.slow
def test_no_font_but_ours(tunes: dict[str, Tune], page):
    """No drawing asks for a font that a sheet does not bring, and none has private signs."""
    for tune in tunes.values():
        music = music_of(page(tune), SheetLook(air=True, hard=True, fingers=True), "p", 230.0)
        for svg in music.drawings.values():
            assert set(re.findall(r'font-family="([^"]*)"', svg)) <= {"Libertinus Serif"}
            assert not re.search("[\ue000-\uf8ff]", svg)


def test_the_same_bytes():
    """The same tune is drawn to the same bytes."""
    assert engraved('"D"d2f2a4|d8|') == engraved('"D"d2f2a4|d8|')


def test_a_note_as_a_drawing():
    """The note of a tempo is one outline, and one more for each dot."""
    for dots in (0, 1, 2):
        assert note_drawing("quarter", dots).count("<path") == 1 + dots


@pytest.mark.slow
@pytest.mark.parametrize("title", ["The Towpath Mare", "The Lock-Keeper's Kettle"])
def test_partitura_reads_the_same_notes(title, page, tunes: dict[str, Tune]):
    """The MusicXML with buttons that goes to the engraver has, as partitura reads it, the notes
    of the tune in order, each as long as it is."""
    with pytest.MonkeyPatch.context() as patch:  # else it fetches a sound font when it is loaded
        patch.setitem(sys.modules, "fluidsynth", None)
        partitura = pytest.importorskip("partitura")
    one = page(tunes[title])
    tune = with_buttons(one.tune, one.fit.fingering)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = partitura.load_musicxml(BytesIO(render_musicxml(tune).encode()))
        rows = score.parts[0].note_array()
    read = [
        (int(row["pitch"]), round(float(row["duration_quarter"]), 3))
        for row in sorted(rows, key=lambda row: float(row["onset_quarter"]))
        if row["duration_div"] > 0
    ]
    assert read == [
        (note.pitches[-1].midi, round(float(4 * note.length), 3)) for note in tune.notes()
    ]


@pytest.mark.slow
def test_music21_reads_the_same_chords(page, tunes: dict[str, Tune]):
    """The MusicXML of a sheet has, as music21 reads it, the chords of the tune: root and third."""
    music21 = pytest.importorskip("music21")
    for title in ("The Towpath Mare", "The Lock-Keeper's Kettle", "Mist on the Bottom Lock"):
        one = page(tunes[title])
        tune = with_buttons(one.tune, one.fit.fingering)
        score = music21.converter.parse(render_musicxml(tune), format="musicxml")
        read = [
            (found.root().pitchClass, found.isMinorTriad() or "minor" in found.chordKind)
            for found in score.recurse().getElementsByClass("ChordSymbol")
        ]
        wanted = [
            (symbol.chord.root, symbol.chord.kind.startswith("minor"))
            for bar in tune.bars
            for symbol in bar.chords
        ]
        assert read == wanted


@pytest.mark.parametrize("bars", [1, 3, 6, 8, 9])
@pytest.mark.parametrize("width", [1200, 1850])
def test_no_bar_is_lost(page, bars, width):
    """However many bars go into the one line of a short tune, all of them are drawn."""
    one = page(parse_abc("X:1\nT:L\nM:3/4\nL:1/8\nK:G\n" + '"G"G2B2d2|' * bars + "\n"))
    tune = with_buttons(one.tune, one.fit.fingering)
    systems = engrave(tune, StaffMarks(rows=("push", "pull")), width)
    assert counted(drawn(systems), "measure") == bars
