"""What a tune's text holds besides the tune, so that it can be written anew and keep it."""

from typing import NamedTuple


class KeptLine(NamedTuple):
    """A line of a text that is no music, or a remark at the end of one, with its number."""

    number: int
    text: str


class KeptText(NamedTuple):
    """What stands round the music of a text.

    `above` are the lines before the tune, of its file; `head` the lines of its own header but
    for the key; `key_words` what its key field says besides the key.  `between` are lines of
    the body that are no music, `remarks` stand at the end of lines of music, both by their
    numbers.  `voices` has what is said of voices besides their names, by name.
    """

    above: tuple[str, ...] = ()
    head: tuple[str, ...] = ()
    key_words: str = ""
    between: tuple[KeptLine, ...] = ()
    remarks: tuple[KeptLine, ...] = ()
    voices: tuple[tuple[str, str], ...] = ()
