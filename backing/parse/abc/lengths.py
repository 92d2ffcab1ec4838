"""Sums and products of lengths, each worked out once: a tune has many notes of few lengths."""

from fractions import Fraction
from functools import lru_cache


def plus(one: Fraction, other: Fraction) -> Fraction:
    """Their sum.

    >>> plus(Fraction(3, 8), Fraction(1, 8))
    Fraction(1, 2)
    """
    return _sum(*one.as_integer_ratio(), *other.as_integer_ratio())


def times(one: Fraction, other: Fraction) -> Fraction:
    """Their product."""
    return _product(*one.as_integer_ratio(), *other.as_integer_ratio())


@lru_cache(maxsize=4096)
def _sum(top: int, bottom: int, other_top: int, other_bottom: int) -> Fraction:
    return Fraction(top, bottom) + Fraction(other_top, other_bottom)


@lru_cache(maxsize=4096)
def _product(top: int, bottom: int, other_top: int, other_bottom: int) -> Fraction:
    return Fraction(top, bottom) * Fraction(other_top, other_bottom)


@lru_cache(maxsize=32)
def broken(signs: str) -> tuple[Fraction, Fraction]:
    """What `>`, `<<` and their like make of the note before and of the one after (clause 4.4).

    >>> broken("<<")
    (Fraction(1, 4), Fraction(7, 4))
    """
    short = Fraction(1, 2 ** min(len(signs), 6))
    return (2 - short, short) if signs[0] == ">" else (short, 2 - short)
