"""Words put together, the same way wherever something is said."""

from collections.abc import Iterable, Sequence

_NUMBERS = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve",
)  # fmt: skip


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


def number_word(number: int) -> str:
    """A number as it stands in a sentence: up to twelve in a word.

    >>> number_word(3), number_word(13)
    ('three', '13')
    """
    return _NUMBERS[number] if 0 <= number < len(_NUMBERS) else str(number)


def counted(number: int, thing: str) -> str:
    """A number in a word and what is counted.

    >>> counted(1, "leap"), counted(3, "leap"), counted(13, "leap")
    ('one leap', 'three leaps', '13 leaps')
    """
    return f"{number_word(number)} {thing}{'' if number == 1 else 's'}"


def times_in_words(number: int) -> str:
    """How often something comes.

    >>> times_in_words(1), times_in_words(2), times_in_words(5)
    ('once', 'twice', 'five times')
    """
    return {1: "once", 2: "twice"}.get(number) or f"{number_word(number)} times"
