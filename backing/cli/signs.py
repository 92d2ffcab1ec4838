"""Large signs, to be read from a metre away: letters, digits and what chord symbols need.

Each is seven dots high and drawn with block characters, half a line of the terminal a dot,
so that dots are about square; a scale makes every dot so many times as large.
"""

from functools import lru_cache

#: How many dots a sign is high.
HEIGHT = 7
#: Columns of dots between two signs; of a space.
_GAP, _SPACE = 1, 2
_STRIPS = (
    """
0    1   2    3    4    5    6    7    8    9    .  ,  / :
.##. .#. .##. ###. ...# #### .##. #### .##. .##. .. .. ...# .
#..# ##. #..# ...# ..## #... #... ...# #..# #..# .. .. ...# .
#..# .#. ...# ...# .#.# ###. #... ..#. #..# #..# .. .. ..#. #
#..# .#. ..#. .##. #..# ...# ###. ..#. .##. .### .. .. ..#. .
#..# .#. .#.. ...# #### ...# #..# .#.. #..# ...# .. .. .#.. .
#..# .#. #... ...# ...# ...# #..# .#.. #..# ...# ## .# #... #
.##. ### #### ###. ...# ###. .##. .#.. .##. .##. ## #. #... .
""",
    """
A    B    C    D    E    F    G    H    I   J    K    L    M
.##. ###. .##. ###. #### #### .##. #..# ### ...# #..# #... #...#
#..# #..# #..# #..# #... #... #..# #..# .#. ...# #..# #... ##.##
#..# #..# #... #..# #... #... #... #..# .#. ...# #.#. #... #.#.#
#### ###. #... #..# ###. ###. #.## #### .#. ...# ##.. #... #.#.#
#..# #..# #... #..# #... #... #..# #..# .#. ...# #.#. #... #...#
#..# #..# #..# #..# #... #... #..# #..# .#. #..# #..# #... #...#
#..# ###. .##. ###. #### #... .##. #..# ### .##. #..# #### #...#
""",
    """
N    O     P    Q    R    S    T     U    V     W     X     Y     Z
#..# .###. ###. .##. ###. .### ##### #..# #...# #...# #...# #...# ####
##.# #...# #..# #..# #..# #... ..#.. #..# #...# #...# #...# #...# ...#
##.# #...# #..# #..# #..# #... ..#.. #..# #...# #...# .#.#. .#.#. ..#.
#.## #...# ###. #..# ###. .##. ..#.. #..# #...# #.#.# ..#.. ..#.. ..#.
#.## #...# #... #..# #.#. ...# ..#.. #..# .#.#. #.#.# .#.#. ..#.. .#..
#..# #...# #... #.#. #..# ...# ..#.. #..# .#.#. ##.## #...# ..#.. #...
#..# .###. #... .#.# #..# ###. ..#.. .##. ..#.. #...# #...# ..#.. ####
""",
    """
a    b    c    d    e    f   g    h    i j   k    l  m
.... #... .... ...# .... .## .... #... # ..# #... #. .....
.... #... .... ...# .... #.. .... #... . ... #... #. .....
.##. #... .##. ...# .##. #.. .### #... # ..# #..# #. ####.
...# ###. #... .### #..# ### #..# ###. # ..# #.#. #. #.#.#
.### #..# #... #..# #### #.. .### #..# # ..# ##.. #. #.#.#
#..# #..# #... #..# #... #.. ...# #..# # ..# #.#. #. #.#.#
.### ###. .### .### .### #.. ###. #..# # ##. #..# .# #.#.#
""",
    """
n    o    p    q    r    s    t   u    v     w     x     y    z
.... .... .... .... .... .... #.. .... ..... ..... ..... .... ....
.... .... .... .... .... .... #.. .... ..... ..... ..... .... ....
###. .##. ###. .### #.## .### ### #..# #...# #...# #...# #..# ####
#..# #..# #..# #..# ##.. #... #.. #..# #...# #.#.# .#.#. #..# ...#
#..# #..# #..# #..# #... .##. #.. #..# #...# #.#.# ..#.. .### .##.
#..# #..# ###. .### #... ...# #.. #..# .#.#. #.#.# .#.#. ...# #...
#..# .##. #... ...# #... ###. .## .### ..#.. .#.#. #...# ###. ####
""",
    """
#     +     -   –   (  )  ° ø     Δ     = ' ?
.#.#. ..... ... ... .# #. ## ..... ..... ... # ###.
.#.#. ..#.. ... ... #. .# ## ....# ..#.. ... # ...#
##### ..#.. ... ... #. .# .. .##.# ..#.. ### . ...#
.#.#. ##### ### ### #. .# .. #..#. .#.#. ... . .##.
##### ..#.. ... ... #. .# .. #.##. .#.#. ### . .#..
.#.#. ..#.. ... ... #. .# .. .##.. #...# ... . ....
.#.#. ..... ... ... .# #. .. #.... ##### ... . .#..
""",
)
#: Signs that look like others.
_LIKE = str.maketrans(
    {"♯": "#", "♭": "b", "△": "Δ", "∆": "Δ", "Ø": "ø", "º": "°", "−": "-", "’": "'"}
)
_HALVES = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


@lru_cache(maxsize=1)
def _signs() -> dict[str, tuple[str, ...]]:
    """The rows of dots of every sign."""
    found = {}
    for strip in _STRIPS:
        names, *rows = strip.strip("\n").splitlines()
        for name, *dots in zip(*(each.split() for each in (names, *rows)), strict=True):
            found[name] = tuple(dots)
    found[" "] = ("." * _SPACE,) * HEIGHT
    return found


def drawable(text: str) -> bool:
    """True where there is a large sign for all that a text holds."""
    return bool(text) and set(text.translate(_LIKE)) <= _signs().keys()


def dots_wide(text: str) -> int:
    """How many dots a text is wide; each is a column at scale 1.

    >>> dots_wide("G"), dots_wide("D7"), dots_wide("F#m")
    (4, 9, 16)
    """
    signs = [_signs()[sign] for sign in text.translate(_LIKE)]
    return sum(len(sign[0]) for sign in signs) + _GAP * max(len(signs) - 1, 0)


def lines_high(scale: int) -> int:
    """How many lines a sign is high at a scale.

    >>> [lines_high(scale) for scale in (1, 2, 3)]
    [4, 7, 11]
    """
    return (HEIGHT * scale + 1) // 2


@lru_cache(maxsize=256)
def drawn(text: str, scale: int) -> tuple[str, ...]:
    """A text in large signs: lines of the same width, `dots_wide` columns times the scale.

    >>> drawn("7", 1)
    ('▀▀▀█', '  █ ', ' █  ', ' ▀  ')
    """
    signs = [_signs()[sign] for sign in text.translate(_LIKE)]
    rows = [("." * _GAP).join(sign[row] for sign in signs) for row in range(HEIGHT)]
    dots = [[dot == "#" for dot in row for _ in range(scale)] for row in rows for _ in range(scale)]
    if len(dots) % 2:
        dots.append([False] * len(dots[0]))
    return tuple(
        "".join(_HALVES[pair] for pair in zip(upper, lower, strict=True))
        for upper, lower in zip(dots[::2], dots[1::2], strict=True)
    )
