"""Words put together, the same way wherever something is said."""

from collections.abc import Sequence


def listed(words: Sequence[str]) -> str:
    """Words as a list that reads well.

    >>> listed(["bass"]), listed(["melody", "bass", "click"])
    ('bass', 'melody, bass and click')
    """
    *some, last = words
    return f"{', '.join(some)} and {last}" if some else last


def count(number: int, thing: str) -> str:
    """A number and what is counted.

    >>> count(1, "bar"), count(3, "bar")
    ('1 bar', '3 bars')
    """
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"
