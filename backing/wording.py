"""Words put together, the same way wherever something is said."""

from collections.abc import Iterable, Sequence

from backing.language.tables import ENGLISH, language_table, text_in


def listed(words: Sequence[str], language: str = ENGLISH) -> str:
    """Words as a list that reads well.

    >>> listed(["bass"]), listed(["melody", "bass", "click"]), listed(["1", "2", "3"], "de")
    ('bass', 'melody, bass and click', '1, 2 und 3')
    """
    *some, last = words
    if not some:
        return last
    return text_in(language, "list").format(some=", ".join(some), last=last)


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


def number_word(number: int, language: str = ENGLISH) -> str:
    """A number as it stands in a sentence: up to twelve in a word.

    >>> number_word(3), number_word(13), number_word(3, "fr")
    ('three', '13', 'trois')
    """
    names: list[str] = language_table(language)["numbers"]
    return names[number] if 0 <= number < len(names) else str(number)


def counted(number: int, thing: str) -> str:
    """A number in a word and what is counted.

    >>> counted(1, "leap"), counted(3, "leap"), counted(13, "leap")
    ('one leap', 'three leaps', '13 leaps')
    """
    return f"{number_word(number)} {thing}{'' if number == 1 else 's'}"


def times_in_words(number: int, language: str = ENGLISH) -> str:
    """How often something comes.

    >>> times_in_words(1), times_in_words(2), times_in_words(5), times_in_words(2, "de")
    ('once', 'twice', 'five times', 'zweimal')
    """
    if number == 2:
        return text_in(language, "twice")
    return text_in(language, "times", number).format(number=number_word(number, language))


def ordinal(number: int, language: str = ENGLISH) -> str:
    """Which one, counted from one.

    >>> ordinal(1), ordinal(12), ordinal(13), ordinal(22), ordinal(113), ordinal(2, "fr")
    ('first', 'twelfth', '13th', '22nd', '113th', '2e')
    """
    names = language_table(language)["ordinals"]
    ending = "" if number % 100 in (11, 12, 13) else f"-{number % 10}"
    text: str = names.get(str(number)) or names.get(ending) or names["many"]
    return text.format(count=number)
