"""Files that are broken or made to do harm: each is refused, quickly, with its limit named."""

import io
import sys
import zipfile
from collections.abc import Iterable
from contextlib import suppress

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from backing.errors import BackingError, TuneError
from backing.parse.musicxml import parse_musicxml

CONTAINER = '<container><rootfiles><rootfile full-path="{}"/></rootfiles></container>'
NOTE = (
    "<note><pitch><step>C</step><alter>1</alter><octave>4</octave></pitch><duration>8</duration>"
    '<tie type="start"/><voice>1</voice><type>half</type><notations><slur type="start"/>'
    '<articulations><staccato/></articulations></notations><lyric number="1"><syllabic>begin'
    "</syllabic><text>lo</text></lyric></note>"
)
SMALL = (
    '<?xml version="1.0"?><score-partwise version="4.0"><part-list><score-part id="P1">'
    '<part-name>A</part-name></score-part></part-list><part id="P1"><measure number="1">'
    "<attributes><divisions>4</divisions><key><fifths>2</fifths><mode>major</mode></key><time>"
    "<beats>4</beats><beat-type>4</beat-type></time></attributes><direction><direction-type>"
    "<metronome><beat-unit>half</beat-unit><per-minute>80</per-minute></metronome>"
    '</direction-type><sound tempo="160"/></direction><harmony><root><root-step>D</root-step>'
    "</root><kind>minor-seventh</kind><degree><degree-value>5</degree-value><degree-alter>-1"
    f"</degree-alter><degree-type>alter</degree-type></degree></harmony>{NOTE}{NOTE}"
    '<barline location="right"><repeat direction="backward" times="3"/></barline></measure>'
    "</part></score-partwise>"
).encode()


def packed(entries: Iterable[tuple[str, bytes]]) -> bytes:
    """A compressed file with these entries."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in entries:
            archive.writestr(name, data)
    return buffer.getvalue()


def with_container(path: str, *entries: tuple[str, bytes]) -> bytes:
    """A compressed score whose container names this path."""
    return packed([("META-INF/container.xml", CONTAINER.format(path).encode()), *entries])


def fault(data: bytes) -> TuneError:
    """The error that a file ends in."""
    with pytest.raises(TuneError) as caught:
        parse_musicxml(data)
    return caught.value


def test_a_compressed_score() -> None:
    """A compressed score is told by its content and reads as the text in it does
    (MusicXML 4.0, compressed .MXL files)."""
    assert parse_musicxml(with_container("a/s.xml", ("a/s.xml", SMALL))) == parse_musicxml(SMALL)
    assert parse_musicxml(packed([("s.musicxml", SMALL)])) == parse_musicxml(SMALL)


def test_an_entity_bomb() -> None:
    """A declared entity is refused before it is expanded, with its place."""
    bomb = b'<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;">]>\n<score-partwise>&b;'
    error = fault(bomb)
    assert "declares an entity ('a')" in error.message
    assert error.line == 1


def test_an_external_entity() -> None:
    """An entity outside the file is refused; the DOCTYPE that every score has is not."""
    outside = b'<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/hostname">]><score-partwise>&a;'
    assert "declares an entity" in fault(outside).message
    head, _, body = SMALL.partition(b"?>")
    doctype = (
        b'<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN"'
        b' "http://www.musicxml.org/dtds/partwise.dtd">'
    )
    assert parse_musicxml(head + b"?>" + doctype + body) == parse_musicxml(SMALL)


def test_deep_nesting() -> None:
    """More than 100 levels are refused."""
    assert "nested more than 100 levels" in fault(b"<a>" * 100_000).message
    assert "nested more than 100 levels" in fault(b"<a>" * 101 + b"</a>" * 101).message


@pytest.mark.slow
def test_size() -> None:
    """More than 32 MB are refused, and so is more than 20,000 bars in a part."""
    assert "larger than 32 MB" in fault(b"<!--" + b" " * 40 * 2**20 + b"-->").message
    bars = b'<measure number="1"/>' * 20_001
    assert "20,000 bars" in fault(b"<score-partwise><part>" + bars).message


@pytest.mark.slow
def test_too_much_music() -> None:
    """More than 20,000 notes, and more than 400,000 bars in all voices, are refused."""
    notes = b"<score-partwise><part>" + b"<note/>" * 20_001
    assert "20,000 notes" in fault(notes).message
    voices = "".join(
        f"<note><rest/><duration>1</duration><voice>{n}</voice></note>" for n in range(300)
    )
    bars = "<measure/>" * 1_500
    many = (
        f'<score-partwise><part id="P1"><measure>{voices}</measure>{bars}</part></score-partwise>'
    )
    assert "400,000 bars" in fault(many.encode()).message


def test_without_music21(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where music21 is not installed, the error says what to install."""
    monkeypatch.setitem(sys.modules, "music21.musicxml.xmlToM21", None)
    error = fault(SMALL)
    assert (error.message, error.hint) == (
        "MusicXML is read through music21, which is not installed", "pip install music21"
    )  # fmt: skip


@pytest.mark.slow
def test_zip_bombs() -> None:
    """Too many entries, one that is too large, and one packed too tightly are refused."""
    many = packed((f"{n}.xml", b"") for n in range(1_001))
    assert "more than 1,000 entries" in fault(many).message
    assert "larger than 32 MB" in fault(packed([("s.xml", bytes(33 * 2**20))])).message
    assert "compressed more than 200 to 1" in fault(packed([("s.xml", bytes(2**21))])).message


def test_a_false_size() -> None:
    """An entry that is larger than the archive says is not unpacked beyond what it says."""
    data = bytearray(packed([("s.xml", bytes(2**20))]))
    for sign, place in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        at = data.index(sign) + place
        data[at : at + 4] = (100).to_bytes(4, "little")
    assert "broken" in fault(bytes(data)).message


@pytest.mark.parametrize("name", ["../s.xml", "/s.xml", "a/../../s.xml", "C:/s.xml", "..\\s.xml"])
def test_paths_that_lead_out(name: str) -> None:
    """An entry outside the archive is refused."""
    assert "leads out of it" in fault(packed([(name, SMALL)])).message


def test_broken_archives() -> None:
    """A broken archive, one without a score, and one that names a missing score are refused."""
    whole = with_container("s.xml", ("s.xml", SMALL))
    assert "broken" in fault(whole[:-40]).message
    assert "does not say which entry" in fault(packed([("readme.txt", b"")])).message
    assert "has no entry 's.xml'" in fault(with_container("s.xml")).message


def test_broken_xml() -> None:
    """Broken XML is an error with line, column and the line itself."""
    error = fault(b"<score-partwise>\n  <part></prt>\n</score-partwise>")
    assert (error.line, error.column) == (2, 11)
    assert error.excerpt == "  <part></prt>"
    assert "mismatched tag" in error.message


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "the XML is broken: no element found"),
        (b"X:1\nK:G\n", "the XML is broken: syntax error"),
        (b"<html/>", "no MusicXML score: its root element is 'html'"),
        (b"<score-partwise/>", "there are no notes in this score"),
        (b'<?xml version="1.0" encoding="klingon"?><a/>', "the XML is broken"),
    ],
)
def test_what_is_no_score(data: bytes, message: str) -> None:
    """Other kinds of files are refused in words."""
    assert message in fault(data).message


def test_what_music21_refuses() -> None:
    """What music21 cannot read becomes an error that names the part."""
    error = fault(SMALL.replace(b"<type>half</type>", b"<type>loud</type>"))
    assert error.message.startswith("part A: music21 cannot read its notes")


@pytest.mark.slow
@settings(max_examples=300, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(st.tuples(st.integers(0, len(SMALL)), st.integers(0, 3), st.binary(max_size=3)),
                min_size=1, max_size=4))  # fmt: skip
def test_any_change_of_bytes(changes: list[tuple[int, int, bytes]]) -> None:
    """Whatever bytes of a score are changed, it is read or refused, never more."""
    data = SMALL
    for at, cut, put in changes:
        data = data[:at] + put + data[at + cut :]
    with suppress(BackingError):
        parse_musicxml(data)


NUMBERS = st.sampled_from(["-1", "0", "1", "3", "7", "999999999", "1e9", "0.5", "x", "", " 2 "])
PLACES = [b">4<", b">2<", b">1<", b">8<", b">5<", b">-1<", b">80<", b'"160"', b'"3"', b'"1"']


@pytest.mark.slow
@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(st.tuples(st.sampled_from(PLACES), st.integers(0, 4), NUMBERS),
                min_size=1, max_size=3))  # fmt: skip
def test_any_change_of_numbers(changes: list[tuple[bytes, int, str]]) -> None:
    """Whatever numbers stand in a score, it is read or refused, never more."""
    data = SMALL
    for old, which, new in changes:
        pieces = data.split(old)
        at = which % max(len(pieces) - 1, 1)
        fresh = old[:1] + new.encode() + old[-1:]
        data = old.join(pieces[: at + 1]) + (
            fresh + old.join(pieces[at + 1 :]) if pieces[1:] else b""
        )
    with suppress(BackingError):
        parse_musicxml(data)


TAGS = [
    "duration", "pitch", "step", "octave", "type", "divisions", "beats", "root", "kind", "note",
    "attributes", "slur", "repeat", "sound", "part", "tie", "lyric", "voice",
]  # fmt: skip


@pytest.mark.slow
@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(st.tuples(st.sampled_from(TAGS), st.sampled_from([*TAGS, "grace", "chord", "cue"])),
                min_size=1, max_size=3))  # fmt: skip
def test_any_change_of_elements(changes: list[tuple[str, str]]) -> None:
    """Whatever elements stand in place of others, it is read or refused, never more."""
    text = SMALL.decode()
    for old, new in changes:
        for sign in ("<", "</"):
            text = text.replace(f"{sign}{old}>", f"{sign}{new}>").replace(
                f"{sign}{old} ", f"{sign}{new} "
            )
    with suppress(BackingError):
        parse_musicxml(text.encode())
