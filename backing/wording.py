"""Words put together, the same way wherever something is said."""

from collections.abc import Iterable, Sequence


def listed(words: Sequence[str]) -> str:
    """Words as a list that reads well.

    >>> listed(["bass"]), listed(["melody", "bass", "click"])
    ('bass', 'melody, bass and click')
    """
    *some, last = words
    return f"{', '.join(some)} and {last}" if some else last


def either(words: Iterable[str]) -> str:
    """Words to choose from.

    >>> either(["bass", "chord"]), either(["1", "2", "3"])
    ('bass or chord', '1, 2 or 3')
    """
    *first, last = [str(word) for word in words]
    return f"{', '.join(first)} or {last}" if first else last


def with_article(word: str) -> str:
    """A thing, with the article before it.

    >>> with_article("jig"), with_article("air")
    ('a jig', 'an air')
    """
    return f"an {word}" if word[0] in "aeiou" else f"a {word}"


def count(number: int, thing: str) -> str:
    """A number and what is counted.

    >>> count(1, "bar"), count(3, "bar")
    ('1 bar', '3 bars')
    """
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"
