"""A tune written again, as ABC with what its text held besides, or as MusicXML."""

from dataclasses import replace
from pathlib import Path

from backing.errors import BackingError, Notice
from backing.files import Reading
from backing.music.tune import Tune
from backing.parse.abc import kept_text, split_book, tune_of
from backing.render.abc import render_abc
from backing.render.musicxml import render_musicxml

#: What a tune is written as, by the suffix of the file.
NOTATIONS = (".abc", ".musicxml", ".xml")


def in_notation(
    reading: Reading, tune: Tune, output: Path | None, voice: str = "", edited: str | None = None
) -> tuple[str, tuple[Notice, ...]]:
    """A tune made from the one that was read, as ABC (to the screen too) or MusicXML, by the
    suffix of the file, and what there is to say of it; `edited` as in `abc_in_place`."""
    if output is None or output.suffix.lower() == ".abc":
        return abc_in_place(reading, tune, edited, voice)
    return render_musicxml(tune), ()


def abc_again(reading: Reading, tune: Tune, voice: str = "") -> tuple[str, tuple[Notice, ...]]:
    """A tune made from the one that was read, as ABC, and what there is to say of it.

    Remarks, directives and the words of voices stay where they stood.  Where the tune would
    read otherwise with them they are left out, which is said.
    """
    if reading.text is None:
        return render_abc(tune), ()
    kept = kept_text(reading.text)
    if kept is not None:
        text = render_abc(tune, kept)
        if reads_as(text, tune, voice):
            return text, ()
    said = Notice(
        "remarks, directives and what is said of voices and clefs are left out",
        "the tune would read otherwise with them; copy them from the old text",
    )
    return render_abc(tune), (said,)


def abc_in_place(
    reading: Reading, tune: Tune, edited: str | None, voice: str = ""
) -> tuple[str, tuple[Notice, ...]]:
    """The text of a tune with what was put into its lines, `edited`, under its file's header;
    the tune written anew where there is no such text, or where it would read otherwise."""
    if reading.text is not None and edited is not None:
        book = reading.text
        head = [line for _, line in book.header]
        if book.version and book.version not in head:
            head.insert(0, book.version)
        whole = "\n".join([*head, "", edited] if head else [edited])
        if reads_as(whole, tune, voice):
            return whole, ()
    return abc_again(reading, tune, voice)


def reads_as(text: str, tune: Tune, voice: str = "") -> bool:
    """True where a text is this tune; texts beside the music may stand in another order."""
    try:
        again = tune_of(next(split_book(text)), voice=voice)
    except (BackingError, StopIteration):
        return False
    return _ordered(again) == _ordered(tune)


def _ordered(tune: Tune) -> Tune:
    return replace(tune, number="", texts=tuple(sorted(tune.texts)))
