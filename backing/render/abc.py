"""A tune as ABC 2.1, so that reading it again gives the same tune.

Lengths are written out (no broken rhythm), every bar's accidentals anew; key and metre
changes, labels and tempi stand inside brackets at their place.
"""

import re
from collections.abc import Iterator, Sequence

from backing.music.tune import Tune, Voice
from backing.render.abc_fields import write_key, write_metre, write_tempo
from backing.render.abc_text import escape_text
from backing.render.abc_voice import MusicLine, VoiceWriter, even_rows, layers_of

_HEADER_TEXTS = frozenset("ABDFGHNOPSWZr")
#: Fields whose texts are kept as they stand, escapes and all.
_AS_WRITTEN = frozenset("PQ")
_QUOTED = re.compile(r'"[^"]*"')


def render_abc(tune: Tune) -> str:
    """The tune as ABC text, one tune with its header, ended by a line end."""
    lines = [*_header(tune), *_body(tune)]
    return "\n".join(lines) + "\n"


# -- header ---------------------------------------------------------------------


def _header(tune: Tune) -> Iterator[str]:
    above, words, below = parted_texts(tune)
    yield f"X:{tune.number or 1}"
    yield from (f"T:{escape_text(title)}" for title in tune.titles)
    if not tune.titles and tune.title != "untitled":
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
