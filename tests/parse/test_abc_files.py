"""Files of ABC with what they say beside them, as a person would check it.

`valid/x.abc` has a listing of its tune in `x.txt`: the head, the bars with their notes, the
order in which they are played, the notices.  `invalid/x.abc` has its message in `x.txt`.
Read what `--update-golden` writes before keeping it.
"""

from pathlib import Path

import pytest

from backing.errors import BackingError
from backing.music.tune import Bar, Note, Tune
from backing.music.unfold import unfold
from backing.parse.abc import parse_abc

DATA = Path(__file__).parent.parent / "data"
VALID = sorted((DATA / "valid").glob("*.abc"))
INVALID = sorted((DATA / "invalid").glob("*.abc"))


def note_text(note: Note) -> str:
    """What hangs on the note, its pitches, its length: `{A4}D5~:1/8` with a grace and a tie."""
    graces = " ".join("+".join(map(str, grace.pitches)) for grace in note.graces)
    signs = [
        *(f'"{text}"' for text in note.texts),
        *(f"!{name}!" for name in note.decorations),
        f"({note.tuplet.notes}:{note.tuplet.normal} " if note.tuplet and note.tuplet.first else "",
        "(" * note.opens,
        f"{{{graces}}}" if graces else "",
        "+".join(map(str, note.pitches)) or ("x" if note.hidden else "z"),
        "~" if note.ties else "",
        f":{note.length}",
        ")" * note.closes,
        "".join(f" [{syllable}]" for syllable in note.lyrics),
    ]
    return "".join(signs)


def bar_text(bar: Bar) -> str:
    """The frame of a bar: number, section, metre, key, signs, chord symbols, tempi."""
    signs = [
        f"{bar.number} {bar.section} {bar.metre} {bar.key}",
        "pickup" if bar.pickup else "",
        f"opens {bar.opens_repeat}" if bar.opens_repeat else "",
        f"ending {bar.ending}" if bar.ending else "",
        f"plays {bar.plays}" if bar.plays else "",
        "" if bar.close == "|" else f"close {bar.close or 'none'}",
        f"label {bar.label}" if bar.label else "",
        *bar.jumps,
        *(f"{symbol.chord} at {symbol.onset}" for symbol in bar.chords),
        *(f"tempo {mark.tempo} at {mark.onset}" for mark in bar.tempos),
    ]
    return ", ".join(sign for sign in signs if sign)


def listing(tune: Tune) -> str:
    """The whole tune as text."""
    lines = [
        f"{tune.number or 'no number'}: {' / '.join(tune.titles) or 'no title'}",
        f"dance {tune.dance or 'none'}, metre {tune.metre}, key {tune.key}, "
        f"unit {tune.unit_length}, tempo {tune.tempo or 'none'}, swing {tune.swing or 'none'}",
        *(f"{name}: {text}" for name, text in tune.texts),
        "",
        *map(bar_text, tune.bars),
    ]
    for voice in tune.voices:
        lines += ["", f"voice {voice.name}"]
        lines += [" ".join(note_text(note) for note in notes) for notes in voice.bars]
    lines += ["", "played: " + " ".join(f"{bar.index}" for bar in unfold(tune))]
    lines += ["", *(notice.text() for notice in tune.notices)] if tune.notices else []
    return "\n".join(lines) + "\n"


def check(path: Path, found: str, request: pytest.FixtureRequest) -> None:
    """Compare with the text beside the file, or write it anew."""
    beside = path.with_suffix(".txt")
    if request.config.getoption("--update-golden"):
        beside.write_text(found, encoding="utf-8")
    assert beside.read_text(encoding="utf-8") == found


@pytest.mark.parametrize("path", VALID, ids=[path.stem for path in VALID])
def test_what_a_tune_says(path: Path, request: pytest.FixtureRequest) -> None:
    """The tune is read as the listing beside it says."""
    check(path, listing(parse_abc(path.read_text(encoding="utf-8"))), request)


@pytest.mark.parametrize("path", INVALID, ids=[path.stem for path in INVALID])
def test_what_is_refused(path: Path, request: pytest.FixtureRequest) -> None:
    """The tune is refused with the message beside it, word for word."""
    with pytest.raises(BackingError) as caught:
        parse_abc(path.read_text(encoding="utf-8"))
    check(path, caught.value.text() + "\n", request)


def test_every_text_has_its_file() -> None:
    """No text is left over from a file that is gone."""
    assert len(VALID) >= 10
    assert len(INVALID) >= 15
    for path in [*(DATA / "valid").glob("*.txt"), *(DATA / "invalid").glob("*.txt")]:
        assert path.with_suffix(".abc").exists(), path.name
