"""Texts, names and numbers as ABC writes them."""

import re
from fractions import Fraction

#: What a text may not hold as it is: blanks and backslashes at its ends, signs of fonts and
#: quotes, controls; and what a backslash before it makes plain (clause 8.2).
_SPECIAL = re.compile(r"(\A\s+|\s+\Z|\\+\Z|[$\"\x00-\x1f\x7f-\x9f])|[\\%&]")
#: What would part or end a syllable.
_IN_SYLLABLES = re.compile(r"[\\%&$\"*_|~-]|[^\S ]|[\x00-\x1f\x7f-\x9f]")
_NOT_IN_NAMES = re.compile(r"[!\s|:\[\]%\\]")


def escape_text(text: str) -> str:
    """A text with the signs escaped that ABC would take otherwise (clause 8.2).

    >>> print(escape_text('50 % of "it"'))
    50 \\% of \\u0022it\\u0022
    """
    return _SPECIAL.sub(lambda match: _codes(match[1]) if match[1] else "\\" + match[0], text)


def _codes(signs: str) -> str:
    return "".join(f"\\u{ord(sign):04x}" for sign in signs)


def write_syllable(text: str) -> str:
    """A syllable of a lyric line; "*" for a note that has none (clause 5.1)."""
    if text in ("_", ""):
        return text or "*"
    end = "-" if text.endswith("-") and len(text) > 1 else ""
    inside = text.removesuffix("-") if end else text
    return _IN_SYLLABLES.sub(lambda match: _codes(match[0]), inside).replace(" ", "~") + end


def write_decoration(name: str) -> str:
    """A decoration by its name; signs that no name may have become underscores."""
    return f"!{_NOT_IN_NAMES.sub('_', name)}!"


def in_full(number: Fraction) -> str:
    """A number whose decimals end, with all of them.

    >>> in_full(Fraction(101, 2))
    '50.5'
    """
    places = 0
    while (number * 10**places).denominator != 1:
        places += 1
    digits = str(number.numerator * 10**places // number.denominator).zfill(places + 1)
    return f"{digits[:-places]}.{digits[-places:]}" if places else digits


def in_units(count: Fraction) -> str:
    """A length in units.

    >>> in_units(Fraction(3, 2)), in_units(Fraction(1, 2)), in_units(Fraction(1))
    ('3/2', '/2', '')
    """
    top = "" if count.numerator == 1 else str(count.numerator)
    return top if count.denominator == 1 else f"{top}/{count.denominator}"
