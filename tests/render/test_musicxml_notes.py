"""The notes that we write as MusicXML: accidentals, beams, tuplets, ties, slurs, signs.

Each is checked against the standard or common practice, and against what music21 and
partitura read.
"""

import importlib.util
import io
import os
import random
import subprocess
import sys
import warnings
from fractions import Fraction
from importlib import import_module
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element

import pytest

from backing.errors import BackingError
from backing.music.tune import Tune
from backing.parse.abc import parse_abc, split_book, tune_of
from backing.parse.musicxml import parse_musicxml
from backing.render.musicxml import render_musicxml, score_element

EXAMPLES = Path(__file__).parents[2] / "examples"
TUNES = {
    tune.title: tune
    for path in sorted(EXAMPLES.glob("*.abc"))
    for tune in map(tune_of, split_book(path.read_text(encoding="utf-8")))
}
#: The content model of `note` in MusicXML 4.0, as far as we write it.
ORDER = (
    "grace", "chord", "pitch", "rest", "duration", "tie", "voice", "type", "dot", "accidental",
    "time-modification", "beam", "notations", "lyric",
)  # fmt: skip
EVERYTHING = r"""X:1
T:Everything
M:4/4
L:1/8
K:Gm
AG|{/b}(3(^F!trill!=Ed {gfe}(c>)B) !4!a<g [B-d-][Bd]|!fermata!^f5 (d !arpeggio![ce]2)|\
z5 x (5:4:5GABcd|
w:Sing a-long_ * now
[K:D exp ^c _b][M:7/8]c/4=c/4^c/2 e2- e/3d/3c/3 b/7c6/7 z|\
!upbow!!roll!^^f4 =f2 f|x7|[M:none](((ab)c)d) e3/64 z4|
"""


def tune_in(music: str, metre: str = "4/4", key: str = "C") -> Tune:
    """A tune in quavers."""
    return parse_abc(f"X:1\nT:Written\nM:{metre}\nL:1/8\nK:{key}\n{music}")


def notes_of(tune: Tune) -> list[Element]:
    """The elements `note` of all parts."""
    return list(score_element(tune).iter("note"))


def shown(tune: Tune, name: str) -> str:
    """What an element of each note says, "-" where a note has none."""
    return " ".join(note.findtext(name, "-") for note in notes_of(tune))


def beams(tune: Tune) -> str:
    """The beams of each note, a sign for each level, bars set apart."""
    signs = {"begin": "(", "continue": "=", "end": ")", "forward hook": ">", "backward hook": "<"}
    return " | ".join(
        " ".join("".join(signs[str(b.text)] for b in n.findall("beam")) or "." for n in bar)
        for bar in (measure.findall("note") for measure in score_element(tune).iter("measure"))
    )


def optional(name: str) -> Any:
    """A library that checks what we write; partitura would fetch a sound font at its import
    where it finds FluidSynth."""
    with warnings.catch_warnings(), pytest.MonkeyPatch.context() as patch:
        warnings.simplefilter("ignore")
        patch.setitem(sys.modules, "fluidsynth", None)
        if os.environ.get("BACKING_REQUIRE_ALL") == "1":
            return import_module(name)
        return pytest.importorskip(name)


def read_by_music21(tune: Tune) -> Any:
    """The first part of the score that music21 makes of what we write."""
    converter = optional("music21").converter
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return converter.parseData(render_musicxml(tune), format="musicxml").parts[0]


def struck_in(part: Any) -> list[Any]:
    """The notes and chords of a part of music21, grace notes among them, no chord symbols."""
    return [n for n in part.recurse().notes if "ChordSymbol" not in n.classes]


def read_by_partitura(tune: Tune) -> Any:
    """The first part of the score that partitura makes of what we write."""
    partitura = optional("partitura")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return partitura.load_musicxml(io.BytesIO(render_musicxml(tune).encode())).parts[0]


def seeded(number: int) -> list[Tune]:
    """Tunes of the collections that the music21 package carries, chosen by a seed."""
    spec = importlib.util.find_spec("music21")
    if spec is None:
        pytest.skip("the music21 package is not installed")
    corpus = Path(spec.submodule_search_locations[0], "corpus")
    names = ("ryansMammoth", "airdsAirs", "oneills1850", "miscFolk", "essenFolksong")
    texts = [
        text
        for name in names
        for path in sorted((corpus / name).glob("*.abc"))[:60]
        for text in split_book(path.read_text(encoding="utf-8", errors="replace"))
    ]
    tunes = []
    for text in random.Random(11).sample(texts, number):
        try:
            tunes.append(tune_of(text))
        except BackingError:
            continue
    return tunes


# -- the elements ---------------------------------------------------------------


@pytest.mark.parametrize("tune", [*TUNES.values(), parse_abc(EVERYTHING)], ids=lambda t: t.title)
def test_the_order_in_a_note(tune: Tune) -> None:
    """The children of every note stand in the order of the content model (MusicXML 4.0,
    element `note`), all in voice 1; a grace note has no duration."""
    for note in notes_of(tune):
        tags = [child.tag for child in note]
        assert tags == sorted(tags, key=ORDER.index)
        assert note.findtext("voice") == "1"
        assert (note.find("grace") is None) == (note.find("duration") is not None)
        assert (note.find("pitch") is None) == (note.find("rest") is not None)


@pytest.mark.slow
def test_everything_comes_back_once_more() -> None:
    """A tune with every kind of sign is, once written and read, the same whenever it is written
    and read again."""
    once = parse_musicxml(render_musicxml(parse_abc(EVERYTHING)).encode())
    again = parse_musicxml(render_musicxml(once).encode())
    assert again.melody == once.melody
    assert again.bars == once.bars


@pytest.mark.slow
def test_music21_is_not_needed_to_write() -> None:
    """A score is written without music21 being loaded."""
    code = (
        "import sys; from backing import parse_abc, render_musicxml;"
        "render_musicxml(parse_abc('X:1\\nT:x\\nK:C\\n(3ABc [ce]2|'));"
        "assert 'music21' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_the_tree_before_it_is_text() -> None:
    """The element of a score can be added to; its text is what is rendered."""
    root = score_element(tune_in("C4 D4|"))
    assert (root.tag, [m.get("number") for m in root.iter("measure")]) == ("score-partwise", ["1"])
    assert [note.findtext("duration") for note in root.iter("note")] == ["2", "2"]


def test_an_empty_bar_of_a_voice_has_a_whole_length() -> None:
    """A bar in which a voice has no notes is a hidden rest of the bar's length, whatever the
    divisions of the others."""
    tune = parse_abc("X:1\nT:x\nM:3/8\nL:1/8\nK:C\nV:1\nc3|d3|\nV:2\nC3|\n")
    rest = notes_of(tune)[-1]
    assert (rest.get("print-object"), rest.find("rest").attrib) == ("no", {"measure": "yes"})
    assert rest.findtext("duration") == "3"


def test_rests() -> None:
    """A rest that fills a bar is one of a whole bar, of any metre; one that makes a pickup
    shows how long it is; a hidden one is not printed (MusicXML 4.0, `rest`, `print-object`)."""
    notes = notes_of(tune_in("z|z6|x6|c3 z3|", "6/8"))
    whole = [n.find("rest").get("measure", "") for n in notes if n.find("rest") is not None]
    assert whole == ["", "yes", "yes", ""]
    assert [n.findtext("type") for n in notes] == ["eighth", None, None, "quarter", "quarter"]
    assert [n.get("print-object") for n in notes] == [None, None, "no", None, None]


def test_a_length_that_cannot_be_printed_has_no_type() -> None:
    """A length that no chain of notes makes up keeps its duration and has no type; a rest of
    that length is not called one of a whole bar."""
    notes = notes_of(tune_in("c5/2000 z5/2000 d4|"))
    assert [n.findtext("type") for n in notes] == [None, None, "half"]
    assert notes[1].find("rest").attrib == {}
    assert notes[0].find("beam") is None


# -- accidentals ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("key", "music", "accidentals"),
    [
        ("C", "^c2c2 =c2c2|", "sharp - natural -"),
        ("D", "=f2^f2 f2^^f2|^f4 _f4|", "natural sharp - double-sharp sharp flat"),
        ("Ebm", "=c4 _c4|__b4 _b4|", "natural flat flat-flat flat"),
        ("G#", "f4 ^^f4|^f8|", "- - sharp"),
        ("C exp ^f _e", "e2=e2 f2=f2|", "- natural - natural"),
        ("HP", "f2c2 =f2g2|", "- - natural -"),
        ("C", "{^f}f2 {f}=f2 z4|", "sharp - - natural -"),
        ("C", "[^c^f]4 [cf]4|", "sharp sharp - -"),
        ("C", "^c4 z4|z8|c8|", "sharp - - -"),
        ("F", "B4[K:G]b4|", "- natural"),
        ("F", "_B8|[K:G]B8|_B8|", "- - flat"),
    ],
)
def test_accidentals(key: str, music: str, accidentals: str) -> None:
    """An accidental holds for its line until the bar ends, and stands where a note differs from
    the signature or from the one before it in the bar (common practice)."""
    assert shown(tune_in(music, key=key), "accidental") == accidentals


@pytest.mark.parametrize(
    ("music", "accidentals"),
    [
        ("^c8-|c4 d4|", "sharp - -"),
        ("^c8-|c2^c2 =c4|", "sharp - sharp natural"),
        ("^c8-|c4 =c4|", "sharp - natural"),
        ("^c5 z3|", "sharp - -"),
        ("[^c_e]8-|[ce]8|", "sharp flat - -"),
    ],
)
def test_accidentals_and_ties(music: str, accidentals: str) -> None:
    """A tied note needs no accidental, also over the bar line, where it rules nothing but the
    note itself (common practice)."""
    assert shown(tune_in(music), "accidental") == accidentals


@pytest.mark.parametrize(
    ("music", "accidentals"),
    [
        ("^c4 c'4|", "sharp natural"),
        ("^c8|c8|c8|", "sharp natural -"),
        ("=f8|f8|", "- -"),
        ("^c8|[K:D]=c8|[K:C]c8|", "sharp natural -"),
    ],
)
def test_reminders(music: str, accidentals: str) -> None:
    """A reminder stands where the letter was altered otherwise in another octave or in the bar
    before in the same key (common practice)."""
    assert shown(tune_in(music), "accidental") == accidentals


def altered_by_the_rule(part: Element) -> list[tuple[int, int]]:
    """For each note that is not tied to the one before: what the printed signs say that it is
    altered by, and what its pitch says."""
    names = {"flat-flat": -2, "flat": -1, "natural": 0, "sharp": 1, "double-sharp": 2}
    found: list[tuple[int, int]] = []
    signature: dict[str, int] = {}
    for measure in part.iter("measure"):
        if (key := measure.find("attributes/key")) is not None:
            letters = [str(e.text) for e in key.findall("key-step")]
            alters = [int(str(e.text)) for e in key.findall("key-alter")]
            fifths = int(key.findtext("fifths", "0"))
            sharps = ["F", "C", "G", "D", "A", "E", "B"]
            by_fifths = sharps[:fifths] if fifths > 0 else sharps[7 + fifths :] if fifths else []
            signature = dict.fromkeys(by_fifths, 1 if fifths > 0 else -1)
            signature |= dict(zip(letters, alters, strict=True))
        standing: dict[tuple[str, str], int] = {}
        for note in measure.findall("note"):
            step, octave = note.findtext("pitch/step", ""), note.findtext("pitch/octave", "")
            if not step or any(tie.get("type") == "stop" for tie in note.findall("tie")):
                continue
            if (sign := note.findtext("accidental")) is not None:
                standing[step, octave] = names[sign]
            printed = standing.get((step, octave), signature.get(step, 0))
            found.append((printed, int(note.findtext("pitch/alter", "0"))))
    return found


@pytest.mark.slow
def test_the_printed_accidentals_tell_every_pitch() -> None:
    """Read by the rule of the bar alone, the signs that are printed give each note its pitch: in
    every example and in 150 tunes of the collections in the music21 package."""
    for tune in (*TUNES.values(), parse_abc(EVERYTHING), *seeded(150)):
        for part in score_element(tune).iter("part"):
            told = altered_by_the_rule(part)
            assert [printed for printed, _ in told] == [alter for _, alter in told], tune.title


@pytest.mark.slow
@pytest.mark.parametrize("title", TUNES)
def test_music21_prints_the_same_accidentals(title: str) -> None:
    """In the examples accidentals stand where music21 would set them itself."""
    part = read_by_music21(TUNES[title])
    signs = [p.accidental for note in struck_in(part) for p in note.pitches]
    ours = [bool(sign and sign.displayStatus) for sign in signs]
    part.makeAccidentals(inPlace=True, overrideStatus=True)
    signs = [p.accidental for note in struck_in(part) for p in note.pitches]
    assert ours == [bool(sign and sign.displayStatus) for sign in signs]


# -- beams ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("metre", "music", "drawn"),
    [
        ("6/8", "cdefga|c2d efg|", "( = ) ( = ) | . . ( = )"),
        ("9/8", "cdefgabag|", "( = ) ( = ) ( = )"),
        ("3/8", "cde|", "( = )"),
        ("2/4", "cdef|", "( ) ( )"),
        ("3/4", "cdefga|c3def|", "( ) ( ) ( ) | . . ( )"),
        ("4/4", "cdefgabc'|c2de f2ga|", "( = = ) ( = = ) | . ( ) . ( )"),
        ("4/4", "cdefg/a/gfe|c>def g>fed|", "( = = ) (( =) ) ( ) | ( )< ( ) ( )< ( )"),
        ("4/4", "c3d efg2|zcde fgaz|", ". . ( ) . | . ( = ) ( = ) ."),
        ("C|", "cdefgabc'|c/d/e/f/gafgab|", "( = = ) ( = = ) | (( == == )) ( ) ( = = )"),
        ("3/2", "cdefgabc'bagf|", "( = = ) ( = = ) ( = = )"),
        ("6/4", "c3def g3agf|", ". ( = ) . ( = )"),
        ("5/4", "cdefgabagf|", "( ) ( ) ( ) ( ) ( )"),
        ("7/8", "cdefgab|", "( = ) ( ) ( )"),
        ("2+2+3/8", "cdefgab|", "( ) ( ) ( = )"),
        ("none", "cdef g/a/b c'|", "( ) ( ) (( =) ) ."),
        ("6/8", "efg|cdefga|", "( = ) | ( = ) ( = )"),
        ("6/8", "g|cdefga|", ". | ( = ) ( = )"),
        ("3/4", "de|cdefga|", "( ) | ( ) ( ) ( )"),
        ("4/4", "fgab|gab|c8|", "( = = ) | ( = ) | ."),
        ("2/4", "cdefga|c4|", "( ) ( ) ( ) | ."),
    ],
)
def test_beams_go_by_the_beat(metre: str, music: str, drawn: str) -> None:
    """Quavers are beamed by the felt beat, by halves in four-four and minim beats where they are
    alone; pickups are counted from their place in the metre (common practice)."""
    tune = tune_in(music, metre)
    assert beams(tune) == drawn


@pytest.mark.parametrize(
    ("metre", "music", "drawn"),
    [
        ("2/4", "c/d/e/f/ gz|c/de/ f/g/a|", "(( == == )) . . | (> = )< (( =) )"),
        ("6/8", "c>de c<de|c/d/e/f/g/a/ z3|", "( =< ) (> = ) | (( == == == == )) ."),
        ("6/8", "cd/e3/2 c3|", "( => ) ."),
        ("2/4", "c3/4d/4 e/d/4c/4 z2|", "(( ==< == ==( ))) ."),
        ("2/4", "c/4d/4e/4f/4 c/ z/ c/z/c/z/|", "((( === === ==) )) . . . . ."),
        ("2/4", "cz dc2e|", ". . . . ."),
        ("2/4", "c{ef}d {g}e{[ce]}f|", "( (( )) ) . ( . . )"),
    ],
)
def test_beams_of_short_notes(metre: str, music: str, drawn: str) -> None:
    """Shorter notes have more beams, hooks point to the note that they make up a beat with;
    rests and longer notes end a beam, grace notes have beams of their own (common practice)."""
    assert beams(tune_in(music, metre)) == drawn


@pytest.mark.parametrize(
    ("metre", "music", "drawn"),
    [
        ("4/4", "(3cde fg (3abc' d'2|", "( = ) ( ) ( = ) ."),
        ("4/4", "c(3defg abc'2|", "( = = ) . ( ) ."),
        ("6/8", "(2cd (4efga|", "( ) ( = = )"),
        ("2/4", "(5c/d/e/f/g/ z2|(3c/d/e/ f z2|", "(( == == == )) . | (( == =) ) ."),
        ("4/4", "(3c2d2e2 (3fzg c2|", ". . . . . . ."),
    ],
)
def test_beams_of_tuplets(metre: str, music: str, drawn: str) -> None:
    """A tuplet stays together, also over a beat (common practice)."""
    assert beams(tune_in(music, metre)) == drawn


@pytest.mark.slow
@pytest.mark.parametrize("title", TUNES)
def test_music21_reads_whole_beams(title: str) -> None:
    """In what music21 reads, every beam that begins ends, level by level, on notes of as many
    beams as their type has."""
    lines = {"eighth": 1, "16th": 2, "32nd": 3}
    opened: set[int] = set()
    for note in (n for n in struck_in(read_by_music21(TUNES[title])) if not n.duration.isGrace):
        read = [(beam.number, beam.type) for beam in note.beams]
        assert len(read) in (0, lines.get(note.duration.type, 0))
        assert opened <= {number for number, _ in read}
        for number, sort in read:
            assert (number in opened) == (sort in ("continue", "stop"))
            opened = opened | {number} if sort in ("start", "continue") else opened - {number}
    assert opened == set()


@pytest.mark.slow
@pytest.mark.parametrize("metre", ["6/8", "9/8", "12/8", "3/8", "2/4", "3/4", "6/4", "2/2"])
def test_music21_beams_quavers_so(metre: str) -> None:
    """music21's own beams of a bar of quavers are those that it reads of us."""
    count, unit = map(int, metre.split("/"))
    part = read_by_music21(tune_in("c" * (count * 8 // unit) + "|", metre))
    read = [[beam.type for beam in note.beams] for note in struck_in(part)]
    part.makeBeams(inPlace=True)
    assert read == [[beam.type for beam in note.beams] for note in struck_in(part)]


# -- tuplets --------------------------------------------------------------------


def brackets(tune: Tune) -> str:
    """The signs `tuplet` of each note: [ with, ( without a bracket."""
    signs = {("start", "yes"): "[", ("start", "no"): "(", ("stop", None): ")"}
    return " ".join(
        "".join(signs[str(t.get("type")), t.get("bracket")] for t in n.findall("notations/tuplet"))
        or "."
        for n in notes_of(tune)
    )


@pytest.mark.parametrize(
    ("music", "drawn"),
    [
        ("(3cde (3fga c4|", "( . ) ( . ) ."),
        ("(3c2d2e2 (3czd c2|", "[ . ) [ . ) ."),
        ("(3cde f/3g/3a/3 b/3 c2 c2|", "( . ) [ . ) [) . ."),
        ("c/3d/3e/3 f/3g/3a/3 c6|", "[ . ) [ . ) ."),
        ("c/7d/7e12/7 c6|", "[ . ) ."),
        ("(3c5/2d/2 z c2 z4|", "[ . . ) . ."),
    ],
)
def test_brackets(music: str, drawn: str) -> None:
    """A tuplet has a number from its first note to its last, and a bracket where no beam holds
    exactly its notes; notes whose lengths need a tuplet make one until its time is full."""
    assert brackets(tune_in(music)) == drawn


def test_the_ratio_of_a_tuplet() -> None:
    """Each note of a tuplet says how many sound in the time of how many (MusicXML 4.0,
    element `time-modification`)."""
    notes = notes_of(tune_in("(5:4:5c/d/e/f/g/ z6|"))
    ratios = [[child.text for child in n.find("time-modification")] for n in notes[:5]]
    assert ratios == [["5", "4", "16th"]] * 5
    assert [n.findtext("duration") for n in notes] == [*["1"] * 5, "15"]


@pytest.mark.slow
def test_music21_reads_tuplets() -> None:
    """music21 reads where tuplets begin and end, their ratio and whether they have a bracket."""
    part = read_by_music21(tune_in("(3cde (3f2g2a2 (2:3:2bc' z|"))
    read = [
        (t.type, t.numberNotesActual, t.numberNotesNormal, t.bracket if t.type == "start" else "")
        for n in part.recurse().notes
        for t in n.duration.tuplets
    ]
    assert read == [
        ("start", 3, 2, False), (None, 3, 2, ""), ("stop", 3, 2, ""),
        ("start", 3, 2, True), (None, 3, 2, ""), ("stop", 3, 2, ""),
        ("start", 2, 3, False), ("stop", 2, 3, ""),
    ]  # fmt: skip


# -- ties and slurs -------------------------------------------------------------


def test_ties() -> None:
    """Pieces of one length and notes that are held are tied, as they sound (`tie`) and as they
    are printed (`tied`), each of those struck together for itself."""
    notes = notes_of(tune_in("c5-c3|[c-e]4 [cf-]4|[df]8|"))
    sounding = [[tie.get("type") for tie in n.findall("tie")] for n in notes]
    printed = [[tie.get("type") for tie in n.findall("notations/tied")] for n in notes]
    assert sounding == printed
    assert sounding == [
        ["start"], ["stop", "start"], ["stop"], ["start"], [], ["stop"], ["start"], [], ["stop"],
    ]  # fmt: skip


def slurs(tune: Tune) -> list[list[str]]:
    """The slurs of each note: a sign and its number."""
    return [
        [("(" if s.get("type") == "start" else ")") + str(s.get("number")) for s in signs]
        for signs in (n.findall("notations/slur") for n in notes_of(tune))
    ]


@pytest.mark.parametrize(
    ("music", "drawn"),
    [
        ("(cd) (ef)|", [["(1"], [")1"], ["(1"], [")1"]]),
        ("(cde|f)g|", [["(1"], [], [], [")1"], []]),
        ("((cd)e)f|", [["(1", "(2"], [")2"], [")1"], []]),
        ("(c5(d)e2)|", [["(1"], [], [")1", "(1"], [")1"]]),
        ("(c(de f) g)|", [["(1"], ["(2"], [], [")2"], [")1"]]),
        ("(cd ef|", [[], [], [], []]),
        ("cd) ef|", [[], [], [], []]),
    ],
)
def test_slurs(music: str, drawn: list[list[str]]) -> None:
    """Slurs that last at the same time have numbers of their own; one without an end or a
    beginning is not written (MusicXML 4.0, element `slur`)."""
    assert slurs(tune_in(music)) == drawn


@pytest.mark.slow
def test_music21_reads_ties_and_slurs() -> None:
    """music21 reads ties and slurs between the notes that they join."""
    part = read_by_music21(tune_in("(c5(d)e2)-|e4 ((fg)a2)|"))
    found = list(part.recurse().getElementsByClass("Slur"))
    joined = [(s.getFirst().nameWithOctave, s.getLast().nameWithOctave) for s in found]
    assert sorted(joined) == [("C5", "D5"), ("D5", "E5"), ("F5", "A5"), ("F5", "G5")]
    ties = [n.tie.type if n.tie else "" for n in struck_in(part)]
    assert ties == ["start", "stop", "", "start", "stop", "", "", ""]


@pytest.mark.slow
def test_partitura_reads_what_joins_notes() -> None:
    """partitura reads ties, slurs, tuplets, beams and grace notes where we wrote them."""
    part = read_by_partitura(tune_in("(3cde f>g (a2 b2)|{gab}a4- a2 (bc')|"))
    score = optional("partitura").score
    quarter = part.quarter_map

    def places(kind: str) -> list[tuple[float, float]]:
        things = part.iter_all(getattr(score, kind))
        return [(float(quarter(t.start.t)), float(quarter(t.end.t))) for t in things]

    assert places("Tuplet") == [(0, 1)]
    assert places("Beam") == [(0, 1), (1, 2), (7, 8)]
    assert places("Slur") == [(2, 4), (7, 8)]
    assert places("GraceNote") == [(4, 4)] * 3
    lengths = [float(n.duration_tied) / 12 for n in part.notes_tied if n.duration]
    assert max(lengths) == 3


# -- grace notes and signs ------------------------------------------------------


def test_grace_notes() -> None:
    """A grace note by itself is a quaver, the shortest of several a semiquaver; a slash is
    told, and notes struck together are a chord (MusicXML 4.0, element `grace`)."""
    notes = notes_of(tune_in("{/g}c2 {g2a}d2 {[eg]f}e4|"))
    graces = [n for n in notes if n.find("grace") is not None]
    types = [n.findtext("type") for n in graces]
    assert types == ["eighth", "eighth", "16th", "16th", "16th", "16th"]
    assert [n.find("grace").get("slash") for n in graces] == ["yes", *["no"] * 5]
    assert [n.find("chord") is not None for n in graces] == [False] * 4 + [True, False]
    tune = tune_in("{/g}c2 {g2a}d2 {[eg]f}e4|")
    assert parse_musicxml(render_musicxml(tune).encode()).melody.bars == tune.melody.bars


@pytest.mark.parametrize(
    "name",
    [
        "staccato", "accent", "marcato", "tenuto", "wedge", "breath", "portato", "caesura",
        "slide", "upbow", "downbow", "open", "thumb", "snap", "plus", "trill", "turn",
        "invertedturn", "lowermordent", "uppermordent", "arpeggio", "tremolo", "fermata",
        "invertedfermata", "5", "roll",
    ],
)  # fmt: skip
def test_every_decoration_comes_back(name: str) -> None:
    """Each decoration (ABC 2.1 clause 4.14) has its sign in MusicXML, or is written by name, and
    music21 reads it as what it is."""
    tune = tune_in(f"!{name}![ce]5 z3|")
    again = parse_musicxml(render_musicxml(tune).encode())
    assert again.melody.bars[0][0].decorations == (name,)
    assert [bool(n.find("notations/tied") is not None) for n in notes_of(tune)[:4]] == [True] * 4


def test_several_decorations_of_a_note() -> None:
    """Signs of one kind stand in one element, a loudness beside the note (MusicXML 4.0,
    elements `notations`, `dynamics`)."""
    (note,) = notes_of(tune_in("!accent!!trill!!fermata!!1!!tenuto!!f!c8|"))
    assert [(e.tag, [sign.tag for sign in e]) for e in note.find("notations")] == [
        ("articulations", ["accent", "tenuto"]),
        ("ornaments", ["trill-mark"]),
        ("technical", ["fingering"]),
        ("fermata", []),
    ]


# -- whole collections ------------------------------------------------------------


@pytest.mark.slow
def test_collections_come_back() -> None:
    """Fifty tunes of the collections in the music21 package, once written and read, are the same
    bars and notes when they are written and read again, and sound at the same places."""
    for tune in seeded(50):
        once = parse_musicxml(render_musicxml(tune).encode())
        again = parse_musicxml(render_musicxml(once).encode())
        assert (again.bars, again.melody.bars) == (once.bars, once.melody.bars), tune.title
        assert struck(once) == struck(tune), tune.title


def struck(tune: Tune) -> list[tuple[int, Fraction, list[int]]]:
    """The notes that are struck: bar, onset, keys."""
    found, tied = [], set()
    for index, notes in enumerate(tune.melody.bars):
        for note in notes:
            keys = sorted(pitch.midi for pitch in set(note.pitches) - tied)
            found += [(index, note.onset, keys)] if keys else []
            tied = set(note.ties)
    return found
