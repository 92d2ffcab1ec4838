"""The signs of ABC music code, and how long they last."""

import re
from fractions import Fraction
from functools import cache, lru_cache
from typing import NamedTuple

from backing.music.tune import Jump

LENGTH = r"\d*(?:/+\d*)?"
NOTE = rf"(\^\^|\^|__|_|=)?([A-Ga-g])([,']*)({LENGTH})"
_NUMBERS = r"\d+(?:[,-]\d+)*"
#: What the name of a decoration may be, so that it can stand between exclamation marks.
NAME = re.compile(r"[^!\s|:\[\]%\\]+")


@cache
def token_with_breaks() -> re.Pattern[str]:
    """The signs of music code where every "!" breaks a line (`I:linebreak !`)."""
    return _signs(_PLUS)


def _signs(decoration: str) -> re.Pattern[str]:
    """One sign; the name of the group that matched says which.  Longer signs come first.

    What stands in brackets has a limit, else a row of brackets that never close would be gone
    through to its end for each.
    """
    return re.compile(
        rf"""
        (?P<space>[ \t`]+)
      | (?P<note>{NOTE})
      | (?P<field>\[[A-Za-z]:[^\]]{{0,1000}}\])
      | (?P<bar>(?:\.(?=\|))?(?:\[(?=[|])|[|:])[|:\]]*)(?P<after>{_NUMBERS})?
      | (?P<ending>\[\s*(?P<numbers>{_NUMBERS})[.,]?)
      | (?P<tuplet>\((?P<notes>\d\d(?=:)|\d)(?::(?P<normal>\d*))?(?::(?P<span>\d*))?)
      | (?P<quoted>"[^"]*")
      | (?P<rest>[zx]({LENGTH}))
      | (?P<restbars>[ZX](\d*))
      | (?P<broken>>+|<+)
      | (?P<tie>\.?-)
      | (?P<opens>\.?\()
      | (?P<closes>\))
      | (?P<grace>\{{[^}}]{{0,1000}}\}})
      | (?P<chord>\[[^\]|\[]*\]{LENGTH})
      | (?P<decoration>{decoration})
      | (?P<letter>[~.H-Wh-w])
      | (?P<spacer>y\d*)
      | (?P<break>[$\\!])
      | (?P<overlay>&+)
      | (?P<reserved>[*;?@\#])
      | (?P<unknown>.)
        """,
        re.VERBOSE | re.DOTALL,
    )


_PLUS = r"\+[^+\s|:\[\]]+\+"
#: The signs of music code.
TOKEN = _signs(rf"![^!\s|:\[\]]+!|{_PLUS}")
#: The signs by their names, without the parts of others; "space" does nothing.
_PARTS = frozenset({"space", "numbers", "notes", "normal", "span"})
KINDS = tuple(kind for kind in TOKEN.groupindex if kind not in _PARTS)
INNER = re.compile(
    rf'(?P<note>{NOTE}(?:\.?(-))?)|(?P<decoration>![^!\s]+!)|(?P<letter>[~.H-Wh-w])|(?P<quoted>"[^"]*")'
    r"|(?P<space>[ \t`]+)"
)
NOTES = re.compile(rf"(?:{NOTE})+")
#: Decorations that jump (clause 4.14; the longer names as in the draft 2.2).
JUMPS = {
    "segno": Jump.SEGNO, "coda": Jump.CODA, "dacoda": Jump.TO_CODA, "fine": Jump.FINE,
    "D.C.": Jump.DA_CAPO, "dacapo": Jump.DA_CAPO, "D.C.alfine": Jump.DA_CAPO,
    "D.C.alcoda": Jump.DA_CAPO, "D.S.": Jump.DAL_SEGNO, "dalsegno": Jump.DAL_SEGNO,
    "D.S.alfine": Jump.DAL_SEGNO, "D.S.alcoda": Jump.DAL_SEGNO,
}  # fmt: skip
#: The names of clause 4.14 that could be read as notes between plus signs.
DECORATIONS = frozenset({"f", "ff", "fff", "ffff", "g", "D.C.", "D.S."})
#: Decorations that hold from where they stand: before a bar line or a spacer they are meant
#: for the note after it.
FROM_HERE = frozenset({
    "pppp", "ppp", "pp", "p", "mp", "mf", "f", "ff", "fff", "ffff", "sfz", "<(", "<)", ">(", ">)",
    "crescendo(", "crescendo)", "diminuendo(", "diminuendo)",
})  # fmt: skip
#: Letters that stand for decorations unless a tune says otherwise (clauses 4.14, 4.16).
SHORTHANDS = {
    ".": "staccato", "~": "roll", "H": "fermata", "L": "accent", "M": "lowermordent",
    "O": "coda", "P": "uppermordent", "S": "segno", "T": "trill", "u": "upbow", "v": "downbow",
}  # fmt: skip
#: In the time of how many notes `p` notes go, simple metre; 0: depends (clause 4.13).
_IN_TIME_OF = {2: 3, 3: 2, 4: 3, 5: 0, 6: 2, 7: 0, 8: 3, 9: 0}


#: Lengths are written with up to so many digits: those of other formats, and of tuplets, need
#: more than a player ever would.
_MOST_DIGITS, MOST_DIGITS_IN_GRACES = 40, 5


@lru_cache(maxsize=2048)
def multiplier(text: str, digits: int = _MOST_DIGITS) -> Fraction:
    """How many unit lengths: "" 1, "2", "3/2", "/" a half, "//" a quarter (clause 4.3).

    Raises ValueError where a number is 0 or has more than so many digits.
    """
    if not text:
        return Fraction(1)
    top, slash, bottom = text.partition("/")
    halves = bottom.count("/")
    below = bottom.lstrip("/")
    if len(top) > digits or len(below) > digits or halves > 8:
        raise ValueError(f"{text[:12]!r} is too long or too short for a note")
    count = int(top) if top else 1
    divisor = int(below) if below else (2 << halves if slash else 1)
    if not count or not divisor:
        raise ValueError(f"{text!r} is no length")
    return Fraction(count, divisor)


def in_time_of(notes: int, compound: bool) -> int:
    """The second number of a tuplet where it is left out (clause 4.13)."""
    return _IN_TIME_OF.get(notes, 0) or (3 if compound else 2)


class BarSign(NamedTuple):
    """What a bar line says: how it looks, and how often the strains round it are played."""

    close: str
    plays: int
    opens: int
    dotted: bool


@lru_cache(maxsize=128)
def read_bar_sign(sign: str) -> BarSign:
    """Any run of `|`, `:`, `[` and `]` (clause 4.8); n colons mean n + 1 times.

    >>> read_bar_sign(":|:")
    BarSign(close='|', plays=2, opens=2, dotted=False)
    """
    body = sign.strip(".")
    core = body.strip(":")
    before = len(body) - len(body.lstrip(":"))
    after = len(body) - len(body.rstrip(":"))
    if not core:
        before = after = 1 if len(body) > 1 else 0
    elif ":" in core:
        before, after = max(before, 1), max(after, 1)
    close = next((sort for sort in ("|]", "[|", "||") if sort in core), "|")
    return BarSign(
        "|" if core == "[|]" else close,
        before + 1 if before else 0,
        after + 1 if after else 0,
        sign.startswith("."),
    )


def strip_comment(line: str) -> str:
    """A line without its comment; `\\%` is a percent sign (clause 2.2.5)."""
    at = line.find("%")
    while at > 0 and line[at - 1] == "\\":
        at = line.find("%", at + 1)
    return line if at < 0 else line[:at]
