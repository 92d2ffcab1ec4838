"""A moment of a practice as it stands in a window, to be read from a metre away.

Both hands are on the instrument and a glance lasts half a second, so four things are large and
never move: the bar, the beat, the chord that sounds, the one that comes and in how many beats.
Tempo, round and part are beside the bar, as large as there is room; all else is words.  Nothing
depends on colour.
"""

from collections.abc import Sequence

from backing.cli.flow import columns_wide, fitting, flowed, in_order, wrapped
from backing.cli.large import (
    GAP,
    LargeSign,
    as_large,
    filled_up,
    fitted_sign,
    kept_wide,
    side_by_side,
    sign_lines,
    widened,
)
from backing.cli.moment import (
    GONE,
    bar_words,
    beat_words,
    chord_words,
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
)
from backing.cli.signs import dots_wide, lines_high
from backing.cli.sizes import Sizes, chord_cell, find_sizes, number_scale
from backing.live.shown import Shown, State
from backing.music.tempo import decimal

#: Columns between the bar and what stands beside it.
_BAR_GAP = 3
#: Room is kept for as much, so that nothing moves aside from bar to bar.
_USUAL_LABEL = "A part, time 2, bar"
_WIDE_TEMPO, _WIDE_PART = ("tempo 3/8, 67.5 %", "000"), ("part, time 2", "0")
#: Beats are marked side by side where each has so many columns.
_MARK = 4


def stand(
    shown: Shown, columns: int, rows: int, *, told: Sequence[str] = (), widest: str = ""
) -> list[str]:
    """At most so many lines, none wider than so many columns.

    `told` is what was said and stays, the newest last; `widest` the chord symbol of the tune
    that takes most room, so that signs keep their size from chord to chord.
    """
    steps = _step_lines(shown, columns)
    sizes = find_sizes(shown, columns, rows - len(steps), widest)
    if sizes is None:
        return _in_words(shown, columns, rows, told)
    blocks, over = _blocks(shown, columns, sizes)
    blocks = [steps, *blocks] if steps else blocks
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


def _blocks(shown: Shown, columns: int, sizes: Sizes) -> tuple[list[list[str]], list[str]]:
    """Lines that belong together, from above; and what there was no room for beside the bar."""
    top, over = _top(shown, columns, sizes.bar)
    blocks = [top, _beats(shown, columns, sizes.beats)]
    if sizes.chords:
        blocks.append(_chords(shown, columns, sizes.chords))
    if shown.purpose:
        over = [*over, shown.purpose]
    return blocks, over


def _step_lines(shown: Shown, columns: int) -> list[str]:
    """The step of the practice in words, where there are several."""
    words = step_words(shown)
    return wrapped([words], columns) if words else []


def _top(shown: Shown, columns: int, scale: int) -> tuple[list[str], list[str]]:
    """The bar, beside it tempo, part, round and step, and words; and words without room."""
    before, number = bar_words(shown)
    if shown.state is State.GONE:
        before = "then bar" if number else "the port is gone"
    wide = max(len(_USUAL_LABEL), dots_wide(number if len(number) > 2 else "00") * scale)
    tempo, part, turn, step = _tempo(shown), _part(shown), _round(shown), _step(shown)
    size, large = as_large([tempo, turn, part, step], columns - wide - _BAR_GAP, scale // 2)
    if part not in large and part.words and in_tune(shown):
        before, part = f"{part.words}, {before}", part._replace(words="")
    bar = widened(sign_lines(LargeSign(fitting(before, columns), number, ""), scale), wide)
    width = columns - max(map(columns_wide, bar)) - _BAR_GAP
    row = [each for each in (tempo, part, turn, step) if each in large]
    beside = [widened(sign_lines(each, size), kept_wide(each, size)) for each in row]
    signs = [fitting(line, width) for line in side_by_side(beside, GAP)]
    texts = [each.words for each in (part, turn, tempo) if each not in large and each.words]
    high = 1 + lines_high(scale) - len(signs)
    lines, over = flowed([*texts, *rest_words(shown)], width, high)
    return side_by_side([bar, [*signs, *lines]], _BAR_GAP), over


def _tempo(shown: Shown) -> LargeSign:
    label = f"tempo {shown.tempo.unit}, {decimal(shown.factor * 100)} %"
    return LargeSign(label, decimal(shown.tempo.beats), tempo_words(shown), _WIDE_TEMPO)


def _part(shown: Shown) -> LargeSign:
    part, time = part_words(shown)
    label = ", ".join(filter(None, (part and "part", time)))
    words = ", ".join(filter(None, (part and f"{part} part", time)))
    return LargeSign(label, part.upper() if len(part) < 3 else "", words, _WIDE_PART)


def _round(shown: Shown) -> LargeSign:
    """With room for the longest number that is known to come."""
    times = shown.beat.stretch.times if shown.beat else 0
    digits = "0" * len(str(times))
    widest = ("round", f"{digits}/{digits}" if times else "00")
    number = round_number(shown)
    return LargeSign("round" if number else "", number, round_words(shown), widest)


def _step(shown: Shown) -> LargeSign:
    """Where there are several; the words stand above."""
    if shown.steps < 2:
        return LargeSign("", "", "")
    count = str(shown.steps)
    widest = ("step", f"{'0' * len(count)}/{count}")
    return LargeSign("step", f"{shown.target.step + 1}/{count}", "", widest)


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
        return filled_up(
            fitted_sign(LargeSign(label, text, text), columns, scale), 1 + lines_high(scale)
        )
    cell = chord_cell(columns, scale)
    number = str(shown.beats) if shown.coming and shown.beats else ""
    between = sign_lines(LargeSign("", number, ""), number_scale(scale))
    now = fitted_sign(
        LargeSign("now" if shown.chord else "", shown.chord, shown.chord), cell, scale
    )
    then = fitted_sign(LargeSign(until_words(shown), shown.coming, shown.coming), cell, scale)
    wide = dots_wide("00") * number_scale(scale)
    lines = side_by_side([widened(now, cell), widened(between, wide), then], GAP)
    return filled_up(lines, 1 + lines_high(scale))


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
    groups = (where, [chord_words(shown)], rest, [shown.purpose])
    lines = [line for group in groups for line in in_order(group, columns)][:rows]
    return [*lines, *_told(told, columns, rows - len(lines))]
