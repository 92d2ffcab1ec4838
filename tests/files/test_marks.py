"""The mark in our files: what it is in each kind, and that nothing is changed by it."""

import struct
from io import BytesIO
from pathlib import Path
from random import Random
from xml.etree.ElementTree import fromstring

import mido
import mutagen
import numpy as np
import pretty_midi
import pytest
import soundfile

from backing.arranging.arrange import arrange
from backing.errors import Notice
from backing.files import load_style, read_tune
from backing.files.audio import AUDIO_SUFFIXES, Tags, save_audio
from backing.files.marks import CHANGED, NOT_OURS, marked, why_keep
from backing.parse.abc import parse_abc
from backing.parse.midi import parse_midi
from backing.parse.musicxml import parse_musicxml
from backing.practice.performance import perform
from backing.practice.plan import Plan, Step
from backing.render.abc import render_abc
from backing.render.blocks import Block
from backing.render.midi import render_midi
from backing.render.musicxml import render_musicxml

EXAMPLES = Path(__file__).parents[2] / "examples"
TUNES = sorted(path for path in EXAMPLES.glob("*.abc") if "book" not in path.name)
KETTLE = EXAMPLES / "the-lock-keepers-kettle.abc"


def midi_of(path: Path, *, single_track: bool = False) -> bytes:
    """An example as a practice file, without a mark."""
    tune = read_tune(path).tune
    performance = perform(arrange(tune, load_style("alternating")), Plan((Step(),)), tune)
    return render_midi(performance, single_track=single_track)


def data_of(suffix: str) -> bytes:
    """The same tune in a kind of file, without a mark."""
    tune = read_tune(KETTLE).tune
    if suffix == ".abc":
        return render_abc(tune).encode()
    if suffix in {".musicxml", ".xml"}:
        return render_musicxml(tune).encode()
    return midi_of(KETTLE) if suffix == ".mid" else b'title = "Kettle"\n\n[a]\nb = "c"\n'


TEXTS = (".abc", ".musicxml", ".xml", ".toml")


def why(folder: Path, name: str, data: bytes) -> str:
    """Why a file with these bytes is kept."""
    path = folder / name
    path.write_bytes(data)
    return why_keep(path)


@pytest.mark.slow
@pytest.mark.parametrize("suffix", [*TEXTS, ".mid"])
def test_ours_and_others(tmp_path, suffix):
    """A marked file is known for ours; without the mark, and empty, it is not."""
    data = data_of(suffix)
    assert why(tmp_path, f"a{suffix}", marked(data, suffix)) == ""
    assert why(tmp_path, f"a{suffix.upper()}", marked(data, suffix.upper())) == ""
    assert why(tmp_path, f"a{suffix}", data) == NOT_OURS
    assert why(tmp_path, f"a{suffix}", b"") == NOT_OURS


@pytest.mark.slow
@pytest.mark.parametrize("suffix", [*TEXTS, ".mid"])
def test_every_change_of_a_byte_is_seen(tmp_path, suffix):
    """Whichever byte is another, one more or one less: the file is not as we made it."""
    whole = marked(data_of(suffix), suffix)
    chance = Random(3)
    places = {0, 1, len(whole) - 3, *chance.sample(range(len(whole) - 2), 60)}
    blanks = b"\r\n"
    for at in places:
        other = (whole[at] + 1 + chance.randrange(254)) % 256
        edits = [
            whole[:at] + bytes([other]) + whole[at + 1 :],
            whole[:at] + b"x" + whole[at:],
            whole[:at] + whole[at + 1 :],
        ]
        for edit in edits:
            ends_alike = edit.replace(b"\r", b"\n").rstrip(blanks) == whole.rstrip(blanks)
            if edit != whole and not ends_alike:
                assert why(tmp_path, f"a{suffix}", edit), (at, edit)


@pytest.mark.slow
@pytest.mark.parametrize("suffix", TEXTS)
def test_what_mail_does_to_a_text_is_no_change(tmp_path, suffix):
    """Other line ends, a byte order mark, a missing last line end or empty lines at the end are
    not a person's work."""
    whole = marked(data_of(suffix), suffix)
    for same in (
        whole.replace(b"\n", b"\r\n"),
        whole.replace(b"\n", b"\r"),
        b"\xef\xbb\xbf" + whole,
        whole.rstrip(b"\n"),
        whole + b"\n\n\r\n",
    ):
        assert why(tmp_path, f"a{suffix}", same) == ""


@pytest.mark.slow
@pytest.mark.parametrize("suffix", TEXTS)
def test_what_a_person_adds_is_a_change(tmp_path, suffix):
    """A line before or after the mark, a mark taken elsewhere and two files in one are."""
    whole = marked(data_of(suffix), suffix)
    *lines, mark = whole.splitlines(keepends=True)
    other = marked(b"another\n", suffix)
    for edit in (
        whole + b"more\n",
        b"more\n" + whole,
        b"".join([*lines, b"more\n", mark]),
        other + whole,
        whole + other,
        b"quite another text\n" + mark,
        mark + b"".join(lines),
    ):
        assert why(tmp_path, f"a{suffix}", edit) == CHANGED


@pytest.mark.slow
@pytest.mark.parametrize("suffix", [*TEXTS, ".mid"])
def test_the_same_data_is_marked_the_same(suffix):
    """Marking is repeatable, and a text is marked once however often it comes by."""
    data = data_of(suffix)
    assert marked(data, suffix) == marked(data, suffix)
    if suffix in TEXTS:
        assert marked(marked(data, suffix), suffix) == marked(data, suffix)
        crlf = marked(data, suffix).replace(b"\n", b"\r\n")
        assert marked(crlf, suffix).count(b"made by backing") == 1


def test_the_mark_is_the_last_line():
    """A comment as each kind of text has it."""
    ends = {
        suffix: marked(b"a\n", suffix).decode().splitlines()[-1].replace("e8b7be43", "?")
        for suffix in TEXTS
    }
    assert ends == {
        ".abc": "% made by backing, checksum ?",
        ".musicxml": "<!-- made by backing, checksum ? -->",
        ".xml": "<!-- made by backing, checksum ? -->",
        ".toml": "# made by backing, checksum ?",
    }


def test_data_of_other_kinds_is_left_alone():
    """What is no kind of ours, or no MIDI file at all, gets no mark."""
    for data, suffix in ((b"abc", ".txt"), (b"", ".mid"), (b"MThd", ".mid"), (b"x" * 99, ".mid")):
        assert marked(data, suffix) == data


@pytest.mark.slow
@pytest.mark.parametrize("example", TUNES, ids=lambda path: path.stem)
def test_abc_reads_the_same(example):
    """A tune that is written as ABC with the mark is read as the same tune."""
    text = marked(render_abc(read_tune(example).tune).encode(), ".abc").decode()
    assert parse_abc(text) == parse_abc(render_abc(read_tune(example).tune))
    assert render_abc(parse_abc(text)) == render_abc(read_tune(example).tune)
    kept = example.read_bytes()
    assert parse_abc(marked(kept, ".abc").decode()) == parse_abc(kept.decode())


def test_text_after_the_music_reads_the_same():
    """Words, a comment, a line that goes on and an unended text block before the mark."""
    for end in ("W:words", "w:la la la la", "% mine", "CDEF|\\", "%%begintext\nsome text"):
        text = f"X:1\nT:End\nM:4/4\nL:1/4\nK:C\nCDEF|\n{end}\n"
        assert parse_abc(marked(text.encode(), ".abc").decode()) == parse_abc(text)


@pytest.mark.slow
@pytest.mark.parametrize("example", TUNES, ids=lambda path: path.stem)
def test_musicxml_reads_the_same(example):
    """A score with the mark is sound XML (a comment after the root), and the same tune."""
    text = render_musicxml(read_tune(example).tune).encode()
    data = marked(text, ".musicxml")
    assert fromstring(data).tag == "score-partwise"
    assert parse_musicxml(data) == parse_musicxml(text)


@pytest.mark.slow
@pytest.mark.parametrize("single_track", [False, True])
@pytest.mark.parametrize("example", TUNES, ids=lambda path: path.stem)
def test_midi_plays_the_same(example, single_track):
    """All messages of a MIDI file stay as and when they were; one text at tick 0 is added, after
    the name and the title."""
    bare = midi_of(example, single_track=single_track)
    data = marked(bare, ".mid")
    before, after = (mido.MidiFile(file=BytesIO(each), charset="utf-8") for each in (bare, data))
    added = [track[:] for track in after.tracks]
    mark = added[0].pop(2)
    assert (mark.type, mark.time) == ("text", 0)
    assert mark.text.startswith("made by backing, checksum ")
    assert added == [track[:] for track in before.tracks]
    assert parse_midi(data) == parse_midi(bare)
    assert notices(parse_midi(data).notices) == notices(parse_midi(bare).notices)


def notices(found: tuple[Notice, ...]) -> list[str]:
    """Their texts."""
    return [notice.text() for notice in found]


@pytest.mark.slow
def test_a_second_reader_of_midi_hears_the_same():
    """pretty_midi finds the same notes at the same seconds."""
    bare = midi_of(KETTLE)
    one, other = (pretty_midi.PrettyMIDI(BytesIO(data)) for data in (bare, marked(bare, ".mid")))
    sounding = [
        [(n.start, n.end, n.pitch, n.velocity) for part in file.instruments for n in part.notes]
        for file in (one, other)
    ]
    assert sounding[0] == sounding[1]
    assert sounding[0]


def test_a_track_without_name_or_with_a_long_title():
    """The mark comes first in a track without name and title, after one of any length."""
    for events in (
        b"",
        b"\x00\xff\x03\x81\x48" + b"n" * 200 + b"\x00\xff\x01\x81\x48" + b"t" * 200,
    ):
        track = events + b"\x00\x90\x3c\x40\x60\x3c\x00\x00\xff\x2f\x00"
        data = b"MThd" + struct.pack(">IHHH", 6, 0, 1, 96) + b"MTrk" + struct.pack(">I", len(track))
        found = mido.MidiFile(file=BytesIO(marked(data + track, ".mid"))).tracks[0]
        kinds = [message.type for message in found]
        assert kinds[-4:] == ["text", "note_on", "note_on", "end_of_track"]


# -- sound --------------------------------------------------------------------------


@pytest.fixture
def sound(tmp_path):
    """Write half a second of sound as a kind of file."""
    wave = np.random.default_rng(1).standard_normal((24000, 2)).astype(np.float32) * 0.1

    def write(suffix, title="The Tuned Gate"):
        path = tmp_path / f"a{suffix}"
        save_audio(path, [Block(wave, wave)], 48000, Tags(title), frames=24000)
        return path

    return write


@pytest.mark.slow
@pytest.mark.parametrize("suffix", AUDIO_SUFFIXES)
def test_sound_is_known_for_ours(sound, suffix):
    """A sound file carries the mark in its tags, is as sound as before (mutagen and libsndfile
    read it, Ogg pages with their checksums) and is replaced unasked."""
    path = sound(suffix)
    assert why_keep(path) == ""
    assert soundfile.info(str(path)).frames == 24000
    tags = mutagen.File(path).tags
    encoder = tags["TSSE" if suffix in {".wav", ".mp3"} else "encoder"][0]
    assert encoder.startswith("made by backing, checksum ")
    assert encoder != "made by backing, checksum 00000000"
    first = path.read_bytes()
    assert sound(suffix).read_bytes() == first


@pytest.mark.slow
@pytest.mark.parametrize("suffix", AUDIO_SUFFIXES)
def test_sound_that_was_worked_on(sound, suffix):
    """Another title, a byte more, and a changed sample are seen."""
    whole = sound(suffix).read_bytes()
    path = sound(suffix)
    tags = mutagen.File(path)
    if suffix in {".wav", ".mp3"}:
        tags.tags["TIT2"].text = ["Mine"]
    else:
        tags["title"] = "Mine"
    tags.save()
    assert why_keep(path) == CHANGED
    middle = len(whole) // 2
    for edit in (whole + b"x", whole[:middle] + bytes([whole[middle] ^ 1]) + whole[middle + 1 :]):
        path.write_bytes(edit)
        assert why_keep(path) == CHANGED
    path.write_bytes(whole)
    assert why_keep(path) == ""


@pytest.mark.parametrize("suffix", AUDIO_SUFFIXES)
def test_sound_of_others(tmp_path, suffix):
    """A recording of the player's own is not ours."""
    path = tmp_path / f"a{suffix}"
    kinds = {".opus": ("OGG", "OPUS"), ".ogg": ("OGG", "VORBIS"), ".mp3": ("MP3", None)}
    form, subtype = kinds.get(suffix, (suffix[1:].upper(), None))
    soundfile.write(str(path), np.zeros((4800, 2)), 48000, subtype, format=form)
    assert why_keep(path) == NOT_OURS
    path.write_bytes(Random(1).randbytes(5000))
    assert why_keep(path) == NOT_OURS
