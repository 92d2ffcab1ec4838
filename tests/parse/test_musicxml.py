"""What a MusicXML score says, element by element; the scores are made for these tests."""

from fractions import Fraction

import pytest

from backing.errors import TuneError
from backing.music.chord import KINDS
from backing.music.key import NO_KEY
from backing.music.tune import Ending, Jump, Tune, Tuplet
from backing.music.unfold import unfold
from backing.parse.abc import parse_abc
from backing.parse.musicxml import parse_musicxml
from backing.render.abc import render_abc

STEPS = ("C", "D", "E", "F", "G", "A", "B")
FORWARD = '<barline location="left"><repeat direction="forward"/></barline>'
BACKWARD = '<barline location="right"><repeat direction="backward"/></barline>'
METRE = "<time><beats>4</beats><beat-type>4</beat-type></time>"


def note(step: str = "C", duration: int = 16, inside: str = "", *, before: str = "") -> str:
    """A note of the fourth octave; a quarter note lasts 4."""
    return (
        f"<note>{before}<pitch><step>{step}</step><octave>4</octave></pitch>"
        f"<duration>{duration}</duration>{inside}</note>"
    )


def measure(number: object, *content: str, implicit: bool = False) -> str:
    """A measure with anything in it."""
    attribute = ' implicit="yes"' if implicit else ""
    return f'<measure number="{number}"{attribute}>{"".join(content)}</measure>'


def attributes(inside: str = METRE) -> str:
    """The attributes of a first measure."""
    return f"<attributes><divisions>4</divisions>{inside}</attributes>"


def ending(number: str, sort: str, sign: str = "") -> str:
    """A bar line with an ending that starts or stops."""
    location = "left" if sort == "start" else "right"
    return (
        f'<barline location="{location}"><ending number="{number}" type="{sort}"/>{sign}</barline>'
    )


def score(*parts: tuple[str, ...], head: str = "") -> bytes:
    """A score of parts, each a row of measures, named Part 1, Part 2."""
    names = "".join(
        f'<score-part id="P{n}"><part-name>Part {n}</part-name></score-part>'
        for n in range(1, len(parts) + 1)
    )
    rows = "".join(f'<part id="P{n}">{"".join(row)}</part>' for n, row in enumerate(parts, 1))
    return (
        f'<?xml version="1.0"?><score-partwise version="4.0">{head}'
        f"<part-list>{names}</part-list>{rows}</score-partwise>"
    ).encode()


def read(*content: str, head: str = "", inside: str = METRE) -> Tune:
    """A tune of one bar with this in it."""
    return parse_musicxml(score((measure(1, attributes(inside), *content),), head=head))


def bars(*extra: str) -> tuple[str, ...]:
    """Full bars with the notes C, D, E … and whatever else each one is given."""
    return tuple(
        measure(number, attributes() if number == 1 else "", *signs(more, STEPS[number - 1]))
        for number, more in enumerate(extra, 1)
    )


def signs(more: str, step: str) -> tuple[str, str, str]:
    """Left bar lines and directions before the note, right bar lines after it."""
    left, _, right = more.partition("@")
    return left, note(step), right


def order(*row: str) -> str:
    """The bars as our unfolding plays them, by the numbers of their written places."""
    tune = parse_musicxml(score(row))
    return " ".join(str(played.index + 1) for played in unfold(tune))


# -- the order of the bars ------------------------------------------------------

SOUND_DC = '<direction><direction-type><words/></direction-type><sound dacapo="yes"/></direction>'
FINE = '<direction><direction-type><words/></direction-type><sound fine="yes"/></direction>'
WORDS = "<direction><direction-type><words>{}</words></direction-type></direction>"


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        (bars(FORWARD, "@" + BACKWARD, ""), "1 2 1 2 3"),
        (
            bars(
                FORWARD,
                ending("1", "start") + "@" + ending("1", "stop", '<repeat direction="backward"/>'),
                ending("2", "start") + "@" + ending("2", "discontinue"),
                "",
            ),
            "1 2 1 3 4",
        ),
        (
            bars(
                FORWARD,
                ending("1, 2", "start")
                + "@"
                + ending("1, 2", "stop", '<repeat direction="backward"/>'),
                ending("3", "start") + "@" + ending("3", "discontinue"),
            ),
            "1 2 1 2 1 3",
        ),
        (
            bars(
                FORWARD,
                '@<barline location="right"><repeat direction="backward" times="3"/></barline>',
                "",
            ),
            "1 2 1 2 1 2 3",
        ),
        (bars("", "@" + BACKWARD, "", "@" + BACKWARD), "1 2 1 2 3 4 3 4"),
        (bars("", "@" + FINE, "@" + SOUND_DC), "1 2 3 1 2"),
        (bars("", "@" + WORDS.format("Fine"), "@" + WORDS.format("D.C. al Fine")), "1 2 3 1 2"),
    ],
    ids=["repeat", "endings", "ending list", "times", "two strains", "sounds", "words"],
)
def test_the_order_of_the_bars(row: tuple[str, ...], expected: str) -> None:
    """Repeats, ending lists, `times` and jumps by sound or by words are played in this order
    (MusicXML 4.0, elements `repeat`, `ending`, `sound`)."""
    assert order(*row) == expected


def test_a_pickup_and_a_split_bar() -> None:
    """A pickup is bar 0, and a bar that a repeat splits has one number for its two halves
    (MusicXML 4.0, attribute `implicit` of `measure`)."""
    row = (
        measure(0, attributes(), note("C", 4), implicit=True),
        measure(1, FORWARD, note("D")),
        measure(2, note("E", 12), BACKWARD),
        measure("X1", FORWARD, note("F", 4), implicit=True),
        measure(3, note("G")),
        measure(4, note("A", 12), BACKWARD),
    )
    tune = parse_musicxml(score(row))
    assert [bar.number for bar in tune.bars] == [0, 1, 2, 2, 3, 4]
    assert [bar.pickup for bar in tune.bars] == [True, False, False, True, False, False]
    assert [played.index for played in unfold(tune)] == [0, 1, 2, 1, 2, 3, 4, 5, 3, 4, 5]
    assert not tune.notices


def test_halves_without_a_sign_between_them_are_one_bar() -> None:
    """An implicit measure that completes the one before it, with no sign between, is the
    second half of that bar (MusicXML 4.0, attribute `implicit` of `measure`)."""
    row = (
        measure(1, attributes(), note("C", 4), note("D", 4)),
        measure("X1", note("E", 8), implicit=True),
        measure(2, note("F")),
    )
    tune = parse_musicxml(score(row))
    assert [bar.length for bar in tune.bars] == [1, 1]
    assert [str(n.onset) for n in tune.melody.bars[0]] == ["0", "1/4", "1/2"]


def test_signs_of_a_coda() -> None:
    """Segno and coda stand at a bar's start, "to coda" and D.S. at its end, whether they are
    signs or sounds (MusicXML 4.0, elements `segno`, `coda`, `sound`)."""
    segno = "<direction><direction-type><segno/></direction-type></direction>"
    coda = "<direction><direction-type><coda/></direction-type></direction>"
    row = bars("", segno, "@" + coda, '@<sound dalsegno="segno"/>', coda)
    tune = parse_musicxml(score(row))
    assert [bar.jumps for bar in tune.bars] == [
        (), (Jump.SEGNO,), (Jump.TO_CODA,), (Jump.DAL_SEGNO,), (Jump.CODA,)
    ]  # fmt: skip
    assert order(*row) == "1 2 3 4 2 3 5"


def test_a_segno_at_the_end_of_a_bar_belongs_to_the_next() -> None:
    """A segno or coda after the last note of a measure marks the measure that follows
    (ordinary practice, element `direction`)."""
    segno = '<direction><direction-type><segno/></direction-type><sound segno="s"/></direction>'
    tune = parse_musicxml(score(bars("@" + segno, "")))
    assert [bar.jumps for bar in tune.bars] == [(), (Jump.SEGNO,)]


def test_a_hidden_start_of_a_repeat() -> None:
    """`forward-repeat` opens a repeat where no sign is printed (MusicXML 4.0, `sound`)."""
    assert order(*bars("", '<sound forward-repeat="yes"/>', "@" + BACKWARD)) == "1 2 3 2 3"


def test_an_ending_without_a_number() -> None:
    """An ending whose number is left blank is the next one (MusicXML 4.0, `ending-number`)."""
    row = bars(
        "",
        ending("1", "start") + "@" + ending("1", "stop", '<repeat direction="backward"/>'),
        ending(" ", "start") + "@" + ending(" ", "discontinue"),
    )
    tune = parse_musicxml(score(row))
    assert [bar.ending for bar in tune.bars] == [None, Ending((1,), True), Ending((2,), True)]
    assert [n.message for n in tune.notices] == ["part Part 1, bar 3: an ending without a number"]


# -- metre, key, tempo ----------------------------------------------------------


@pytest.mark.parametrize(
    ("time", "text", "beats"),
    [
        ("<beats>6</beats><beat-type>8</beat-type>", "6/8", "3/8 3/8"),
        ("<beats>3+2+2</beats><beat-type>8</beat-type>", "7/8", "3/8 1/4 1/4"),
        ("<beats>2</beats><beat-type>4</beat-type><beats>3</beats><beat-type>8</beat-type>",
         "7/8", "1/4 1/4 3/8"),
        ("<senza-misura/>", "free", ""),
    ],
)  # fmt: skip
def test_metres(time: str, text: str, beats: str) -> None:
    """Sums and several pairs of beats make the felt beats (MusicXML 4.0, element `time`)."""
    metre = read(note(), inside=f"<time>{time}</time>").metre
    assert (str(metre), " ".join(map(str, metre.beats))) == (text, beats)


@pytest.mark.parametrize(("symbol", "count", "written"), [("common", 4, "C"), ("cut", 2, "C|")])
def test_metre_symbols(symbol: str, count: int, written: str) -> None:
    """`symbol` says that C or C| is printed (MusicXML 4.0, element `time`)."""
    time = f'<time symbol="{symbol}"><beats>{count}</beats><beat-type>{count}</beat-type></time>'
    assert read(note(), inside=time).metre.written == written


@pytest.mark.parametrize(
    ("fifths", "mode", "expected"),
    [
        (1, "major", "G major"), (1, "dorian", "A dorian"), (1, "aeolian", "E minor"),
        (-2, "ionian", "Bb major"), (2, "mixolydian", "A mixolydian"), (-3, "locrian", "D locrian"),
        (6, "lydian", "B lydian"), (-5, "phrygian", "F phrygian"), (0, "", "C major"),
    ],
)  # fmt: skip
def test_keys(fifths: int, mode: str, expected: str) -> None:
    """Fifths and mode make the key; without a mode it is major (MusicXML 4.0, `key`)."""
    sort = f"<mode>{mode}</mode>" if mode else ""
    key = read(note(), inside=f"<key><fifths>{fifths}</fifths>{sort}</key>{METRE}").key
    assert (str(key), key.fifths) == (expected, fifths)


def test_keys_of_single_letters_and_of_none() -> None:
    """Key steps alter single letters; the mode "none" is no key (MusicXML 4.0, `key`)."""
    steps = "<key><key-step>F</key-step><key-alter>1</key-alter></key>"
    assert read(note(), inside=steps + METRE).key.signature == {"F": 1}
    none = "<key><fifths>0</fifths><mode>none</mode></key>"
    assert read(note(), inside=none + METRE).key == NO_KEY


MARK = "<metronome><beat-unit>{}</beat-unit>{}<per-minute>{}</per-minute></metronome>"


@pytest.mark.parametrize(
    ("direction", "expected"),
    [
        ('<sound tempo="90"/>', "1/4 = 90"),
        (f"<direction><direction-type>{MARK.format('half', '', 80)}</direction-type>"
         '<sound tempo="160"/></direction>', "1/2 = 80"),
        (f"<direction><direction-type>{MARK.format('quarter', '<beat-unit-dot/>', 'ca. 60')}"
         "</direction-type></direction>", "3/8 = 60"),
    ],
    ids=["sound", "both", "mark"],
)  # fmt: skip
def test_tempi(direction: str, expected: str) -> None:
    """`tempo` counts quarter notes, a mark its own beat unit (MusicXML 4.0, `sound`,
    `metronome`)."""
    tune = read(direction, note())
    assert str(tune.tempo) == expected
    assert tune.bars[0].tempos == ()


def test_the_beat_of_a_bare_tempo() -> None:
    """A tempo without a mark is counted in the metre's first felt beat: 90 quarters a minute
    are 60 dotted ones."""
    six = "<time><beats>6</beats><beat-type>8</beat-type></time>"
    assert str(read('<sound tempo="90"/>', note("C", 12), inside=six).tempo) == "3/8 = 60"


def test_tempi_later_on() -> None:
    """A tempo within the tune stands in its bar, at its place."""
    tune = read(note("C", 8), '<sound tempo="60"/>', note("D", 8))
    assert tune.tempo is None
    assert [(m.onset, str(m.tempo)) for m in tune.bars[0].tempos] == [(Fraction(1, 2), "1/4 = 60")]


def test_swing() -> None:
    """A swing is the ratio of first to second (MusicXML 4.0, element `swing`)."""
    swing = "<sound><swing><first>2</first><second>1</second></swing></sound>"
    assert read(swing, note()).swing == 2
    assert read("<sound><swing><straight/></swing></sound>", note()).swing == 1


# -- chord symbols --------------------------------------------------------------


def harmony(kind: str, more: str = "", text: str | None = None, root: str = "C") -> str:
    """A chord symbol."""
    shown = f' text="{text}"' if text is not None else ""
    return (
        f"<harmony><root><root-step>{root}</root-step></root>"
        f"<kind{shown}>{kind}</kind>{more}</harmony>"
    )


#: Pitch classes above C, MusicXML 4.0, simple type "kind-value".
SCHEMA = {
    "major": {0, 4, 7}, "minor": {0, 3, 7}, "augmented": {0, 4, 8}, "diminished": {0, 3, 6},
    "dominant": {0, 4, 7, 10}, "major-seventh": {0, 4, 7, 11}, "minor-seventh": {0, 3, 7, 10},
    "diminished-seventh": {0, 3, 6, 9}, "augmented-seventh": {0, 4, 8, 10},
    "half-diminished": {0, 3, 6, 10}, "major-minor": {0, 3, 7, 11}, "major-sixth": {0, 4, 7, 9},
    "minor-sixth": {0, 3, 7, 9}, "dominant-ninth": {0, 4, 7, 10, 2},
    "major-ninth": {0, 4, 7, 11, 2}, "minor-ninth": {0, 3, 7, 10, 2},
    "dominant-11th": {0, 4, 7, 10, 2, 5}, "dominant-13th": {0, 4, 7, 10, 2, 9},
    "suspended-second": {0, 2, 7}, "suspended-fourth": {0, 5, 7}, "power": {0, 7},
}  # fmt: skip


@pytest.mark.parametrize("kind", SCHEMA)
def test_kinds(kind: str) -> None:
    """Every kind that we have holds the pitch classes of the schema ("kind-value")."""
    tune = read(harmony(kind), note())
    assert set(tune.bars[0].chords[0].chord.pitch_classes) == SCHEMA[kind]
    assert not tune.notices


@pytest.mark.parametrize(
    ("kind", "nearest"),
    [("major-11th", "major-ninth"), ("minor-11th", "minor-ninth"), ("major-13th", "major-ninth"),
     ("minor-13th", "minor-ninth")],
)  # fmt: skip
def test_larger_kinds(kind: str, nearest: str) -> None:
    """Kinds that no left hand plays whole become the nearest of ours, with a notice."""
    tune = read(harmony(kind), note())
    assert tune.bars[0].chords[0].chord.kind == nearest
    assert "part Part 1, bar 1" in tune.notices[0].message


def degree(value: int, alter: int, sort: str) -> str:
    """A degree of a chord symbol."""
    return (
        f"<degree><degree-value>{value}</degree-value><degree-alter>{alter}</degree-alter>"
        f"<degree-type>{sort}</degree-type></degree>"
    )


@pytest.mark.parametrize(
    ("kind", "degrees", "expected"),
    [
        ("suspended-fourth", degree(7, 0, "add"), "suspended-seventh"),
        ("major", degree(9, 0, "add"), "added-ninth"),
        ("minor-seventh", degree(5, -1, "alter"), "half-diminished"),
        ("major", degree(3, 0, "subtract"), "power"),
        ("dominant", degree(9, -1, "add"), "dominant"),
        ("major", degree(7, 1, "add"), "major-seventh"),
    ],
)
def test_degrees(kind: str, degrees: str, expected: str) -> None:
    """An added degree counts from a dominant chord, an altered one from the chord's own note;
    what they make is the nearest kind of ours (MusicXML 4.0, element `degree`)."""
    chord = read(harmony(kind, degrees), note()).bars[0].chords[0].chord
    assert chord.kind == expected
    assert expected in KINDS


def test_bass_inversion_and_text() -> None:
    """A bass, or an inversion, gives the lowest note; the text is kept as it is printed
    (MusicXML 4.0, elements `bass`, `inversion`, attribute `text` of `kind`)."""
    bass = "<bass><bass-step>F</bass-step><bass-alter>1</bass-alter></bass>"
    over = read(harmony("major", bass, text="", root="D"), note()).bars[0].chords[0]
    assert (over.text, over.chord.bass_class) == ("D/F#", 6)
    turned = read(harmony("minor", "<inversion>1</inversion>", root="E"), note()).bars[0].chords[0]
    assert turned.chord.bass == ("G", 0)


def test_no_chord_and_unknown_chords() -> None:
    """The kind "none" silences the left hand; a kind without notes is kept as a text, with a
    notice (MusicXML 4.0, "kind-value")."""
    none = "<harmony><root><root-step>C</root-step></root><kind>none</kind></harmony>"
    assert read(none, note()).bars[0].chords[0].chord.silent
    tune = read(harmony("Tristan", text="Tr", root="F"), note())
    assert not tune.has_chords
    assert tune.melody.bars[0][0].texts == ("FTr",)
    assert tune.notices[0].message.startswith("part Part 1, bar 1: 'FTr' is not a chord")


def test_the_place_of_a_chord_symbol() -> None:
    """A chord symbol applies from the place that it stands at, moved by its `offset`."""
    moved = harmony("minor", "<offset>4</offset>")
    tune = read(harmony("major"), note("C", 8), moved, note("D", 8))
    assert [str(symbol.onset) for symbol in tune.bars[0].chords] == ["0", "3/4"]


# -- parts and voices -----------------------------------------------------------


def test_a_transposing_part() -> None:
    """A part that sounds a tone lower is read as it sounds, its key and chord symbols too
    (MusicXML 4.0, element `transpose`; w3c-cg/musicxml issue 474)."""
    inside = (
        f"<key><fifths>2</fifths></key>{METRE}"
        "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    )
    tune = read(harmony("minor", root="E", text="m"), note("C"), inside=inside)
    assert tune.melody.bars[0][0].pitches[0].midi == 58
    assert str(tune.key) == "C major"
    assert tune.bars[0].chords[0].text == "Dm"


def test_several_parts() -> None:
    """The first part with notes is the melody unless another is named; all are kept, bar by
    bar."""
    rest = "<note><rest/><duration>16</duration></note>"
    data = score(
        (measure(1, attributes(), rest),),
        (measure(1, attributes(), note("D")),),
        (measure(1, attributes(), note("E", 8), note("F", 8)),),
    )
    tune = parse_musicxml(data)
    assert [voice.name for voice in tune.voices] == ["Part 2", "Part 3"]
    assert "the melody is Part 2" in tune.notices[0].message
    assert parse_musicxml(data, part="part 3").melody.name == "Part 3"
    assert parse_musicxml(data, part="P3").melody.name == "Part 3"
    with pytest.raises(TuneError, match="there is no part 'Part 7'"):
        parse_musicxml(data, part="Part 7")


def test_voices_and_staves() -> None:
    """The highest full voice of the top staff is the melody; a voice that begins late is
    filled up with hidden rests (MusicXML 4.0, elements `voice`, `staff`, `backup`)."""

    def voiced(step: str, duration: int, voice: int, staff: int) -> str:
        return note(step, duration, f"<voice>{voice}</voice><staff>{staff}</staff>")

    back = "<backup><duration>16</duration></backup>"
    forward = "<forward><duration>8</duration></forward>"
    tune = read(
        voiced("C", 16, 1, 1), back, voiced("B", 16, 2, 1), back, forward, voiced("G", 8, 5, 2),
        inside="<staves>2</staves>" + METRE,
    )  # fmt: skip
    assert [voice.bars[0][-1].pitches[0].step for voice in tune.voices] == ["B", "C", "G"]
    assert [(n.rest, n.hidden, n.length) for n in tune.voices[2].bars[0]] == [
        (True, True, Fraction(1, 2)), (False, False, Fraction(1, 2))
    ]  # fmt: skip


def test_a_score_by_measures() -> None:
    """A score that is ordered by measures is read as one ordered by parts
    (MusicXML 4.0, element `score-timewise`)."""
    measures = "".join(
        f'<measure number="{n}"><part id="P1">{attributes() if n == 1 else ""}{note(step)}</part>'
        "</measure>"
        for n, step in enumerate("CD", 1)
    )
    data = (
        '<score-timewise><part-list><score-part id="P1"><part-name>A</part-name></score-part>'
        f"</part-list>{measures}</score-timewise>"
    )
    tune = parse_musicxml(data.encode())
    assert [bar[0].pitches[0].step for bar in tune.melody.bars] == ["C", "D"]


# -- notes ----------------------------------------------------------------------


def test_what_hangs_on_notes() -> None:
    """Ties, slurs and signs are read, the signs by their names in ABC 2.1 clause 4.14
    (MusicXML 4.0, elements `tie`, `slur`, `articulations`, `ornaments`, `fermata`)."""
    start = (
        '<tie type="start"/><notations><slur type="start" number="1"/><articulations><staccato/>'
        "<accent/></articulations><ornaments><trill-mark/></ornaments></notations>"
    )
    stop = (
        '<tie type="stop"/><notations><slur type="stop" number="1"/><fermata/>'
        "<technical><down-bow/></technical></notations>"
    )
    first, second = read(note("C", 8, start), note("C", 8, stop)).melody.bars[0]
    assert first.ties == first.pitches
    assert set(first.decorations) == {"staccato", "accent", "trill"}
    assert set(second.decorations) == {"fermata", "downbow"}
    assert (first.opens, first.closes, second.opens, second.closes) == (1, 0, 0, 1)


@pytest.mark.slow
def test_a_slur_over_many_bars() -> None:
    """A slur reaches from bar to bar wherever the bars stand in the tune."""
    slur = '<notations><slur type="{}" number="1"/></notations>'
    inside = {99: slur.format("start"), 101: slur.format("stop")}
    row = (
        measure(n + 1, "" if n else attributes(), note("C", 16, inside.get(n, "")))
        for n in range(103)
    )
    notes = [bar[0] for bar in parse_musicxml(score(tuple(row))).melody.bars]
    assert [(n.opens, n.closes) for n in notes[98:103]] == [(0, 0), (1, 0), (0, 0), (0, 1), (0, 0)]


def test_tuplets() -> None:
    """A duration already counts its tuplet; without a bracket a group begins when the one
    before it is full (MusicXML 4.0, element `time-modification`)."""
    ratio = "<actual-notes>3</actual-notes><normal-notes>2</normal-notes>"
    inside = f"<type>eighth</type><time-modification>{ratio}</time-modification>"
    divided = "<divisions>6</divisions>" + METRE
    six = [note("C", 2, inside) for _ in range(6)]
    tune = parse_musicxml(score((measure(1, f"<attributes>{divided}</attributes>", *six),)))
    notes = [n for n in tune.melody.bars[0] if n.tuplet]
    assert {n.length for n in notes} == {Fraction(1, 12)}
    assert [n.tuplet for n in notes] == [Tuplet(3, 2, n in (0, 3)) for n in range(6)]


@pytest.mark.parametrize("gap", [0, 1, 2])
def test_a_gap_in_a_tuplet(gap: int) -> None:
    """Where a `forward` takes the place of one note of a triplet, the triplet has a rest there
    that is not printed; written as ABC and read again every length is the same."""
    inside = (
        "<type>eighth</type><time-modification><actual-notes>3</actual-notes>"
        "<normal-notes>2</normal-notes></time-modification>"
    )
    three = [note(step, 1, inside) for step in "CDE"]
    three[gap] = "<forward><duration>1</duration></forward>"
    head = (
        "<attributes><divisions>3</divisions><time><beats>2</beats><beat-type>4</beat-type></time>"
    )
    tune = read(f"{head}</attributes>", *three, note("G", 3, "<type>quarter</type>"), inside="")
    row = tune.melody.bars[0]
    assert [str(n.length) for n in row] == ["1/12", "1/12", "1/12", "1/4"]
    assert [n.hidden for n in row] == [n == gap for n in range(4)]
    again = parse_abc(render_abc(tune))
    assert again.melody.bars == tune.melody.bars
    assert again.bars == tune.bars


def test_grace_notes() -> None:
    """A grace note has no duration and belongs to the note after it, over a bar line too
    (MusicXML 4.0, element `grace`)."""
    grace = (
        '<note><grace slash="yes"/><pitch><step>B</step><octave>4</octave></pitch>'
        "<type>16th</type></note>"
    )
    row = (measure(1, attributes(), note("C"), grace), measure(2, grace, note("D")))
    (first,), (second,) = parse_musicxml(score(row)).melody.bars
    assert (first.graces, len(second.graces), second.slashed) == ((), 2, True)
    assert second.graces[0].pitches[0].midi == 71


def test_notes_struck_together() -> None:
    """`chord` puts a note to the one before it, each with its own tie."""
    third = note("E", 16, '<tie type="start"/>', before="<chord/>")
    (both,) = read(note("C"), third).melody.bars[0]
    assert [pitch.step for pitch in both.pitches] == ["C", "E"]
    assert [pitch.step for pitch in both.ties] == ["E"]


def test_lyrics() -> None:
    """Syllables keep a hyphen where the word goes on, verse by verse, and "_" where one is
    held (MusicXML 4.0, elements `lyric`, `syllabic`, `extend`)."""

    def lyric(number: int, sort: str, text: str) -> str:
        return f'<lyric number="{number}"><syllabic>{sort}</syllabic><text>{text}</text></lyric>'

    row = read(
        note("C", 4, lyric(1, "begin", "lock") + lyric(2, "single", "gate")),
        note("D", 4, lyric(1, "end", "keep")),
        note("E", 8, '<lyric number="1"><extend/></lyric>'),
    ).melody.bars[0]
    assert [n.lyrics for n in row] == [("lock-", "gate"), ("keep",), ("_",)]


def test_words_and_loudness() -> None:
    """Words stand at their note as an ABC annotation, loudness as a decoration
    (MusicXML 4.0, elements `words`, `dynamics`)."""
    loud = "<direction><direction-type><dynamics><mf/></dynamics></direction-type></direction>"
    tune = read(WORDS.format("very  still"), loud, note())
    assert tune.melody.bars[0][0].texts == ("^very still",)
    assert tune.melody.bars[0][0].decorations == ("mf",)


def test_section_marks() -> None:
    """A rehearsal mark labels the section that begins there (MusicXML 4.0, `rehearsal`)."""
    mark = "<direction><direction-type><rehearsal>{}</rehearsal></direction-type></direction>"
    row = bars(mark.format("A"), "", mark.format("Turn"), "")
    assert [bar.section for bar in parse_musicxml(score(row)).bars] == ["A", "A", "Turn", "Turn"]


def test_title_and_composers() -> None:
    """Title, second title and composers come from the head (MusicXML 4.0, `work`,
    `movement-title`, `creator`)."""
    head = (
        "<work><work-title>Mud on the Oar</work-title></work><movement-title>Slow</movement-title>"
        '<identification><creator type="composer">A. Nobody</creator>'
        '<creator type="arranger">B. Nobody</creator></identification>'
    )
    tune = read(note(), head=head)
    assert (tune.titles, tune.composers) == (("Mud on the Oar", "Slow"), ("A. Nobody",))


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (note("H"), "part Part 1, bar 1: 'H' is not the name of a note"),
        (note("C").replace("<octave>4", "<octave>99"), "bar 1: '99' is not a whole number"),
        ("<note><rest/><duration>x</duration></note>", "bar 1: 'x' is not a number"),
        (note("C", 10**8), "is no length that can be played"),
        ("<note><rest/><duration>16</duration></note>", "there are no notes in this score"),
    ],
)
def test_what_cannot_be_played(content: str, message: str) -> None:
    """A pitch or length that cannot be played is an error that names part and bar."""
    with pytest.raises(TuneError) as caught:
        read(content)
    assert message in caught.value.message


def test_odd_bars_are_noticed() -> None:
    """A bar of another length than its metre is played as written, with a notice that names
    part and bar."""
    row = (measure(1, attributes(), note()), measure(2, note("D", 12)), measure(3, note()))
    tune = parse_musicxml(score(row))
    assert tune.notices[0].message == "part Part 1, bar 2 lasts 3/4, the metre is 4/4"


def test_a_chord_symbol_without_anything() -> None:
    """A chord symbol of no root, kind or text is not kept as an empty text."""
    tune = read("<harmony><root><root-step/></root><kind/></harmony>", note())
    assert tune.melody.bars[0][0].texts == ()
    assert not tune.has_chords
