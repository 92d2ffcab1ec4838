"""A moment of a practice as it stands in a window, to be read from a metre away.

Both hands are on the instrument and a glance lasts half a second, so four things are large and
never move: the bar, the beat, the chord that sounds, the one that comes and in how many beats.
Tempo, round and part are beside the bar, as large as there is room; all else is words.  Nothing
depends on colour.
"""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from backing.cli.moment import (
    GONE,
    bar_words,
    beat_words,
    chord_words,
    columns_wide,
    fitting,
    in_tune,
    part_words,
    place_words,
    rest_words,
    round_number,
    round_words,
    silent,
    step_words,
    tempo_words,
    until_words,
    wrapped,
)
from backing.cli.signs import dots_wide, drawable, drawn, lines_high
from backing.live.shown import Shown, State
from backing.music.tempo import decimal

#: Columns between signs that stand side by side, beside the bar, and between words.
_GAP, _BAR_GAP, _WORD_GAP = 3, 4, 3
#: So many lines are kept for what is told, where the window is not low.
_TOLD = 2
#: A chord symbol of so many dots is as large as the others (F#m); longer ones are smaller, and
#: where those would all be small, so are those longer than Am.
_WIDE_CHORD, _SHORT_CHORD = 16, 10
#: Room is kept for as much, so that nothing moves aside from bar to bar.
_USUAL_LABEL = "A part, time 2, bar"
_WIDE_TEMPO, _WIDE_PART = "tempo 3/8, 67.5 %", "part, time 2"
#: Share of the columns that the bar's number takes at most: so many of ten.
_BAR_SHARE = 4
#: Beats are marked side by side where each has so many columns.
_MARK = 4


class LargeSign(NamedTuple):
    """A text in large signs with a label over it; `words` say the same.  It takes the room of
    the `widest` label and text."""

    label: str
    text: str
    words: str
    widest: tuple[str, str] = ("", "")


class Sizes(NamedTuple):
    """Scales of the bar's number and of the chords (0: there are none)."""

    bar: int
    chords: int


def widest_chord(texts: Iterable[str]) -> str:
    """The chord symbol that takes most room in large signs; "" for none.

    >>> widest_chord(["G", "D7", "F#m"])
    'F#m'
    """
    return max(filter(drawable, texts), key=dots_wide, default="")


def stand(
    shown: Shown, columns: int, rows: int, *, told: Sequence[str] = (), widest: str = ""
) -> list[str]:
    """At most so many lines, none wider than so many columns.

    `told` is what was said and stays, the newest last; `widest` the chord symbol of the tune
    that takes most room, so that signs keep their size from chord to chord.
    """
    sizes = _sizes(shown, columns, rows, widest)
    if sizes is None:
        return _in_words(shown, columns, rows, told)
    blocks, over = _blocks(shown, columns, sizes)
    spare = rows - sum(map(len, blocks))
    below = wrapped(over, columns)[: max(spare, 0)]
    spare -= len(below)
    words = _told(told, columns, spare)
    spare -= len(words)
    lines: list[str] = []
    for place, block in enumerate([*blocks, *([below] if below else [])]):
        air = min(1 + sizes.bar // 4, spare) if place and spare > 1 else 0
        spare -= air
        lines += [""] * air + block
    return [line.rstrip() for line in [*lines, *[""] * spare, *words][:rows]]


# -- how large ------------------------------------------------------------------------------


def _sizes(shown: Shown, columns: int, rows: int, widest: str) -> Sizes | None:
    """The largest scales that fit; None where words alone do."""
    room = rows - min(max(rows // 6 - 1, 0), _TOLD) - bool(step_words(shown))
    chords = 0
    if widest or shown.chord or shown.coming:
        chords = _chord_scale(shown, columns, widest)
        if not chords:
            return None
    for scale in range(2 * room // 7, 0, -1):
        sizes = Sizes(scale, min(scale, chords))
        too_wide = 10 * dots_wide("00") * scale > _BAR_SHARE * columns
        if not too_wide and (not chords or scale <= max(chords, 2)) and _high(sizes) <= room:
            return sizes
    return None


def _chord_scale(shown: Shown, columns: int, widest: str) -> int:
    """The largest scale at which two chords and a number between them stand side by side."""
    texts = [text for text in (widest, shown.chord, shown.coming) if drawable(text)]
    dots = min(max(map(dots_wide, texts), default=_WIDE_CHORD), _WIDE_CHORD)
    scale = 0
    while (scale + 1) * dots <= _chord_cell(columns, scale + 1):
        scale += 1
    short = [each for each in (1, 2) if each * _SHORT_CHORD <= _chord_cell(columns, each)]
    return max(scale, *short, 0)


def _chord_cell(columns: int, scale: int) -> int:
    """Columns for each of two chords."""
    return (columns - dots_wide("00") * _number_scale(scale) - 2 * _GAP) // 2


def _number_scale(chords: int) -> int:
    return max(1, chords // 2)


def _thick(sizes: Sizes) -> int:
    """How many lines the mark of a beat is high."""
    return max(1, sizes.bar // 2)


def _high(sizes: Sizes) -> int:
    """How many lines it takes at these scales: labels, numbers, beats, chords."""
    chords = 1 + lines_high(sizes.chords) if sizes.chords else 0
    return 1 + lines_high(sizes.bar) + _thick(sizes) + chords


# -- what stands where ----------------------------------------------------------------------


def _blocks(shown: Shown, columns: int, sizes: Sizes) -> tuple[list[list[str]], list[str]]:
    """Lines that belong together, from above; and what there was no room for beside the bar."""
    step = wrapped([step_words(shown)], columns) if step_words(shown) else []
    top, over = _top(shown, columns, sizes.bar)
    blocks = [step, top, _beats(shown, columns, _thick(sizes))]
    if sizes.chords:
        blocks.append(_chords(shown, columns, sizes.chords))
    if shown.purpose:
        over = [*over, shown.purpose]
    return [block for block in blocks if block], over


def _top(shown: Shown, columns: int, scale: int) -> tuple[list[str], list[str]]:
    """The bar, beside it tempo, round and part, and words."""
    before, number = bar_words(shown)
    if shown.state is State.GONE:
        before = "then bar" if number else "the port is gone"
    part, time = part_words(shown)
    wide = max(len(_USUAL_LABEL), dots_wide(number if len(number) > 2 else "00") * scale)
    width = columns - wide - _BAR_GAP
    tempo = LargeSign(
        f"tempo {shown.tempo.unit}, {decimal(shown.factor * 100)} %",
        decimal(shown.tempo.beats),
        tempo_words(shown),
        (_WIDE_TEMPO, "000"),
    )
    number_of, most = round_number(shown), _most_rounds(shown)
    turn = LargeSign("round" if number_of else "", number_of, round_words(shown), ("round", most))
    name = part.upper() if len(part) < 3 else ""
    words = ", ".join(filter(None, (part and f"{part} part", time)))
    label = ", ".join(filter(None, (part and "part", time)))
    where = LargeSign(label, name, words, (_WIDE_PART, "0"))  # fmt: skip
    step = _step_sign(shown)
    size, large = _as_large([tempo, turn, where, *step], width, scale // 2)
    if where not in large and words and in_tune(shown):
        before, where = f"{words}, {before}", where._replace(words="")
    bar = _wider(_sign(LargeSign(before, number, ""), scale), wide)
    width = columns - max(map(columns_wide, bar)) - _BAR_GAP
    row = [each for each in (tempo, where, turn, *step) if each in large]
    beside = [_wider(_sign(each, size), _wide(each, size)) for each in row]
    signs = [fitting(line, width) for line in _beside(beside, _GAP)] if beside else []
    texts = [each.words for each in (where, turn, tempo) if each not in large and each.words]
    high = 1 + lines_high(scale) - len(signs)
    lines, over = _flowed([*texts, *rest_words(shown)], width, high)
    return _beside([bar, [*signs, *lines]], _BAR_GAP), over


def _step_sign(shown: Shown) -> list[LargeSign]:
    """Which step of the practice it is, where there are several; the words stand above."""
    if shown.steps < 2:
        return []
    count = str(shown.steps)
    number = f"{shown.target.step + 1}/{count}"
    return [LargeSign("step", number, "", ("", f"{'0' * len(count)}/{count}"))]


def _as_large(signs: Sequence[LargeSign], columns: int, scale: int) -> tuple[int, list[LargeSign]]:
    """The scale at which all of these stand in a row, at 1 those that do; the first go first."""
    for size in range(scale, 0, -1):
        large: list[LargeSign] = []
        for each in signs:
            wide = sum(_wide(other, size) + _GAP for other in [*large, each])
            if wide - _GAP <= columns and (drawable(each.text) or not each.text):
                large.append(each)
        if len(large) == len(signs) or size == 1:
            return size, large
    return 0, []


def _wide(sign: LargeSign, scale: int) -> int:
    """Columns that are kept for a sign."""
    labels, texts = zip((sign.label, sign.text), sign.widest, strict=True)
    dots = max(dots_wide(text) for text in texts if drawable(text) or not text)
    return max(*map(columns_wide, labels), dots * scale)


def _most_rounds(shown: Shown) -> str:
    """The longest that a round's number gets, as far as that is known."""
    times = shown.beat.stretch.times if shown.beat else 0
    digits = "0" * len(str(times))
    return f"{digits}/{digits}" if times else "00"


def _beats(shown: Shown, columns: int, thick: int) -> list[str]:
    """The beats of the bar side by side, the one that sounds as a block."""
    if silent(shown) or shown.beat is None:
        return [""] * thick
    beats, place = shown.beat.beats, shown.beat.place
    cell = columns // max(beats, 1)
    if cell < _MARK:
        return [fitting(beat_words(shown), columns), *[""] * (thick - 1)]
    lines = []
    for row in range(thick):
        line = ""
        for each in range(beats):
            name = f"{each + 1} " if row == thick // 2 else " " * len(f"{each + 1} ")
            mark = "█" if each == place else "─" if row == thick // 2 else " "
            line += (name + mark * (cell - len(name) - 1)).ljust(cell)
        lines.append(line)
    return lines


def _chords(shown: Shown, columns: int, scale: int) -> list[str]:
    """The chord that sounds, the one that comes, and between them in how many beats; while
    nothing sounds, why."""
    if shown.state is not State.PLAYING:
        gone = shown.state is State.GONE
        text, label = ("no port", GONE) if gone else ("stopped", "")
        if columns_wide(label) > columns:
            label = "the port is gone"
        return _grown(_fitted(LargeSign(label, text, text), columns, scale), 1 + lines_high(scale))
    cell = _chord_cell(columns, scale)
    number = str(shown.beats) if shown.coming and shown.beats else ""
    between = _sign(LargeSign("", number, ""), _number_scale(scale))
    now = _fitted(LargeSign("now" if shown.chord else "", shown.chord, shown.chord), cell, scale)
    then = _fitted(LargeSign(until_words(shown), shown.coming, shown.coming), cell, scale)
    wide = dots_wide("00") * _number_scale(scale)
    lines = _beside([_wider(now, cell), _wider(between, wide), then], _GAP)
    return _grown(lines, 1 + lines_high(scale))


# -- signs and lines ------------------------------------------------------------------------


def _sign(sign: LargeSign, scale: int) -> list[str]:
    """A label, and a text in large signs below it."""
    return [sign.label, *(drawn(sign.text, scale) if drawable(sign.text) else [sign.words])]


def _fitted(sign: LargeSign, columns: int, scale: int) -> list[str]:
    """A sign as large as it fits, else in words."""
    if drawable(sign.text):
        while scale > 1 and dots_wide(sign.text) * scale > columns:
            scale -= 1
        if dots_wide(sign.text) * scale <= columns:
            return [fitting(sign.label, columns), *_sign(sign, scale)[1:]]
    return [fitting(sign.label, columns), fitting(sign.words, columns)]


def _beside(blocks: Sequence[Sequence[str]], gap: int) -> list[str]:
    """Blocks of lines side by side."""
    high = max(map(len, blocks))
    widths = [max(map(columns_wide, block), default=0) for block in blocks]
    rows = zip(*(_grown(block, high) for block in blocks), strict=True)
    return [
        (" " * gap)
        .join(
            text + " " * (width - columns_wide(text))
            for text, width in zip(row, widths, strict=True)
        )
        .rstrip()
        for row in rows
    ]


def _grown(block: Sequence[str], high: int) -> list[str]:
    return [*block, *[""] * (high - len(block))]


def _wider(block: Sequence[str], columns: int) -> list[str]:
    return [line + " " * (columns - columns_wide(line)) for line in block]


# -- words ----------------------------------------------------------------------------------


def _flowed(texts: Sequence[str], columns: int, rows: int) -> tuple[list[str], list[str]]:
    """Texts side by side in so many lines, and those for which there is no room."""
    lines: list[str] = []
    for place, text in enumerate(texts):
        wide = columns_wide(text)
        if lines and columns_wide(lines[-1]) + _WORD_GAP + wide <= columns:
            lines[-1] += " " * _WORD_GAP + text
        elif len(lines) < rows and wide <= columns:
            lines.append(text)
        else:
            return lines, list(texts[place:])
    return lines, []


def _told(told: Sequence[str], columns: int, rows: int) -> list[str]:
    """The newest of what was said, as much as there is room for; of one that is too long its
    beginning."""
    lines: list[str] = []
    for text in reversed(told):
        more = wrapped(text.splitlines(), columns)
        if lines and len(lines) + len(more) > rows:
            break
        lines = [*more, *lines][:rows]
    return lines if rows > 0 else []


def _in_words(shown: Shown, columns: int, rows: int, told: Sequence[str]) -> list[str]:
    """Without large signs: what matters most comes first."""
    where = [place_words(shown), beat_words(shown)]
    rest = [tempo_words(shown), round_words(shown), *rest_words(shown), step_words(shown)]
    lines = []
    for group in (where, [chord_words(shown)], [*rest, shown.purpose]):
        texts = [text for text in group if text]
        while texts:
            found, left = _flowed(texts, columns, rows)
            lines += found
            if left == texts or (left and not found):
                lines += wrapped(left[:1], columns)
                left = left[1:]
            texts = left
    lines = lines[:rows]
    return [*lines, *_told(told, columns, rows - len(lines))]
