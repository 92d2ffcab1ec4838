"""A tune as ABC 2.1, so that reading it again gives the same tune.

Lengths are written out (no broken rhythm), every bar's accidentals anew; key and metre
changes, labels and tempi stand inside brackets at their place.
"""

import re
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence

from backing.music.kept import KeptText
from backing.music.tune import UNTITLED, Tune, Voice
from backing.render.abc_fields import write_key, write_metre, write_tempo
from backing.render.abc_text import escape_text
from backing.render.abc_voice import (
    MusicLine,
    VoiceWriter,
    even_rows,
    layers_of,
    rows_of_source,
)

_HEADER_TEXTS = frozenset("ABDFGHNOPSWZr")
#: Fields whose texts are kept as they stand, escapes and all.
_AS_WRITTEN = frozenset("PQ")
_WORDS = "W:"
_QUOTED = re.compile(r'"[^"]*"')


def render_abc(tune: Tune, kept: KeptText | None = None) -> str:
    """The tune as ABC text, one tune with its header, ended by a line end.

    `kept` is what the text that it was read from holds besides: header, remarks and directives
    are then written as they stood there, and as many bars a line.
    """
    if kept is None:
        lines = [*_header(tune), *_body(tune)]
    else:
        lines = [*_kept_header(tune, kept), *_kept_body(tune, kept)]
    return "\n".join(lines) + "\n"


# -- header ---------------------------------------------------------------------


def _header(tune: Tune) -> Iterator[str]:
    above, words, below = parted_texts(tune)
    yield f"X:{_number(tune)}"
    yield from (f"T:{escape_text(title)}" for title in tune.titles)
    if not tune.titles and tune.title != UNTITLED:
        yield f"T:{escape_text(tune.title)}"
    yield from (f"C:{escape_text(composer)}" for composer in tune.composers)
    if tune.dance:
        yield f"R:{escape_text(tune.dance)}"
    yield from map(_text_field, above)
    yield f"M:{write_metre(tune.metre)}"
    yield f"L:{tune.unit_length}"
    if words or tune.tempo is not None:
        yield f"Q:{words or (write_tempo(tune.tempo) if tune.tempo is not None else '')}"
    if tune.order:
        yield f"P:{''.join(tune.order)}"
    if tune.swing is not None:
        yield f"%%backing:swing {tune.swing.numerator}:{tune.swing.denominator}"
    yield from (f"V:{voice_id(voice)}" for voice in named_voices(tune))
    yield f"K:{write_key(tune.key)}"
    yield from map(_text_field, below)


def _number(tune: Tune) -> str:
    """The tune's number in one word: what follows it on its line would be read for itself."""
    return next(iter(tune.number.split()), "1")


def parted_texts(
    tune: Tune,
) -> tuple[Sequence[tuple[str, str]], str, Sequence[tuple[str, str]]]:
    """The texts of the header, the words of its tempo, and the texts of the body.

    A header's tempo comes after its other texts; from the first title or dance that is
    named besides, and from the first tempo in words alone where there is another, all
    stands in the body.
    """
    texts = tune.texts
    stop = next((n for n, (letter, _) in enumerate(texts) if letter not in _HEADER_TEXTS), None)
    if stop is None:
        return texts, "", ()
    letter, text = texts[stop]
    if letter == "Q" and (tune.tempo is None or _QUOTED.sub("", text).strip()):
        return texts[:stop], text, texts[stop + 1 :]
    return texts[:stop], "", texts[stop:]


def _text_field(field: tuple[str, str]) -> str:
    letter, text = field
    return f"{letter}:{text if letter in _AS_WRITTEN else escape_text(text)}"


def named_voices(tune: Tune) -> list[Voice]:
    """The voices that need a `V:`, in the order in which they are written: none where there
    is but the melody."""
    voices = _bases(tune)
    return [] if len(voices) == 1 and voices[0].name == "melody" else voices


def _bases(tune: Tune) -> list[Voice]:
    """The voices that are not second voices inside the bars of another, the one whose bars
    are the frame first: the melody, or one with rests alone."""
    voices = [voice for voice in tune.voices if not voice.name.endswith(" &")]
    if len(voices) > 1 and _rests(voices[1]) and not _is_frame(tune, voices[0]):
        return [voices[1], voices[0], *voices[2:]]
    return voices


def _rests(voice: Voice) -> bool:
    return all(note.rest for bar in voice.bars for note in bar)


def _is_frame(tune: Tune, voice: Voice) -> bool:
    """True where every bar is as long as this voice's notes in it, and has its signs where
    they begin."""
    layers = layers_of(tune, voice)
    for index, bar in enumerate(tune.bars):
        ends = [notes[-1].onset + notes[-1].length for v in layers if (notes := v.bars[index])]
        onsets = {note.onset for note in layers[0].bars[index]}
        if max(ends, default=0) != bar.length or any(c.onset not in onsets for c in bar.chords):
            return False
    return True


def voice_id(voice: Voice) -> str:
    """The name of a voice in one word."""
    return re.sub(r"\s+", "_", voice.name)


# -- body -----------------------------------------------------------------------


def _body(tune: Tune) -> Iterator[str]:
    named = named_voices(tune)
    for index, voice in enumerate(_bases(tune)):
        if named:
            yield f"V:{voice_id(voice)}"
        for line in VoiceWriter(tune, voice, leads=index == 0).lines(even_rows(tune.bars)):
            yield from _lines(line)


def _lines(line: MusicLine) -> tuple[str, ...]:
    return (line.text, *line.lyrics)


# -- as the source has it ---------------------------------------------------------


def _kept_header(tune: Tune, kept: KeptText) -> Iterator[str]:
    yield from kept.above
    if kept.above:
        yield ""
    if not any(line.startswith("X:") for line in kept.head):
        yield f"X:{_number(tune)}"
    yield from kept.head
    yield f"K:{write_key(tune.key)} {kept.key_words}".rstrip()


def _kept_body(tune: Tune, kept: KeptText) -> Iterator[str]:
    """The voices one after the other, each remark and directive before the line of music that
    followed it, or at the end of the one that it stood in; the words that are printed after
    the tune (clause 5.2) below all."""
    voices = [
        (voice, [*VoiceWriter(tune, voice, leads=index == 0).lines(rows_of_source(voice))])
        for index, voice in enumerate(_bases(tune))
    ]
    starts = sorted({line.source for _, lines in voices for line in lines})
    before: dict[int, list[str]] = {}
    letter = ""
    for number, text in kept.between:
        letter = letter if text.startswith("+:") else text[:2]
        place = bisect_right(starts, number) if letter != _WORDS else len(starts)
        before.setdefault(starts[place] if place < len(starts) else 0, []).append(text)
    beside: dict[int, list[str]] = {}
    for number, text in kept.remarks:
        place = bisect_left(starts, number)
        beside.setdefault(starts[min(place, len(starts) - 1)], []).append(text)
    words = dict(kept.voices)
    for voice, lines in voices:
        if named_voices(tune):
            yield f"V:{voice_id(voice)} {words.get(voice.name, '')}".rstrip()
        for line in lines:
            yield from before.pop(line.source, ()) if line.source else ()
            yield " ".join((line.text.rstrip(), *beside.pop(line.source, ())))
            yield from line.lyrics
    yield from before.pop(0, ())
