"""From the bytes of a player's TOML file to its data."""

import re
import tomllib
from fractions import Fraction
from typing import Any, NamedTuple

from backing.data.file_kind import FaultAt, FileKind, refuse

#: No file of ours has a tenth of this; keys of thousands of parts would take tomllib minutes.
MOST_CHARACTERS, MOST_IN_LINE = 200_000, 5_000
_MOST_DIGITS = 20
_EXPONENT = re.compile(r"e[+-]?\d\d?$", re.I)
#: How a text begins that says it is not UTF-8, in the order of trying.
_MARKS = (
    (b"\xff\xfe\0\0", "UTF-32"), (b"\0\0\xfe\xff", "UTF-32"),
    (b"\xff\xfe", "UTF-16"), (b"\xfe\xff", "UTF-16"),
)  # fmt: skip
_SAVE_AGAIN = "save it again in your editor, with UTF-8 as its encoding"


class OddNumber(NamedTuple):
    """A number that is out of every range, as it is written: nan, inf, 1e400."""

    written: str

    def __repr__(self) -> str:
        return self.written


def decoded(data: bytes, source: str, kind: FileKind) -> str:
    """The text of a file, a byte order mark left out; the kind's error where it is not UTF-8."""
    if len(data) > MOST_CHARACTERS * 4:
        raise _too_large(source, kind)
    name = next((name for mark, name in _MARKS if data.startswith(mark)), "")
    if not name and data[:2].count(0) == 1:
        name = "UTF-16"
    if name:
        raise kind.error(f"the text is {name}, not UTF-8", _SAVE_AGAIN, source=source)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        said = f"the text is not UTF-8: line {line} has a sign in another encoding"
        raise kind.error(said, _SAVE_AGAIN, source=source) from None


def toml_data(text: str, source: str, kind: FileKind) -> dict[str, Any]:
    """The data of a TOML text, with numbers exact: a decimal is a Fraction, and one that is out
    of every range an OddNumber.

    Raises the kind's error for what is not TOML and for what is too large.
    """
    if len(text) > MOST_CHARACTERS:
        raise _too_large(source, kind)
    text = text.removeprefix("\ufeff")
    long = next((n for n, line in enumerate(text.split("\n"), 1) if len(line) > MOST_IN_LINE), 0)
    if long:
        said = f"more than {MOST_IN_LINE:,} characters in one line"
        refuse(kind, source, [FaultAt(long, "", said)])
    try:
        return tomllib.loads(text + "\n", parse_float=exact)
    except (ValueError, RecursionError) as error:
        from backing.data.syntax import syntax_faults

        refuse(kind, source, syntax_faults(text, error))


def exact(text: str) -> Fraction | OddNumber:
    """A decimal as it is written.

    >>> exact("0.1"), exact("2.5e-1"), exact("1e400"), exact("nan")
    (Fraction(1, 10), Fraction(1, 4), 1e400, nan)
    """
    exponent = "e" in text.lower()
    if len(text) > _MOST_DIGITS or (exponent and not _EXPONENT.search(text)):
        return OddNumber(text)
    try:
        return Fraction(text)
    except ValueError:
        return OddNumber(text)


def _too_large(source: str, kind: FileKind) -> Exception:
    said = f"larger than {MOST_CHARACTERS // 1000} kB"
    return kind.error(said, f"is it the file of the {kind.noun}?", source=source)
