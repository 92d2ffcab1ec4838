"""What an ABC text holds besides the tune that is read from it.

Remarks, directives and the words of voices are kept as they stand; not what says how the
music code is to be read (macros, shifts of pitch, line breaks), for music that is written
anew needs none of it.
"""

import re
from collections.abc import Iterator

from backing.music.kept import KeptLine, KeptText
from backing.parse.abc.book import TuneText
from backing.parse.abc.fields import printed_words
from backing.parse.abc.tokens import strip_comment

#: Fields of text that may stand between lines of music, and inside them.
_TEXTS = frozenset("HNORSTWr")
_BODY_FIELDS = frozenset("IKLMPQUVmsw")
_HOW_TO_READ = ("propagate-accidentals", "linebreak", "decoration")
_INLINE = re.compile(r"\[([HNORSTWrQV]):([^\]]*)\]")
_QUOTED = re.compile(r'"[^"]*"')
_MARK = "% made by backing, checksum"


def kept_text(text: TuneText) -> KeptText | None:
    """What stands round the music; None where the tune has no key field to divide it by."""
    key = _key_line(text.lines)
    if key is None or text.mended:
        return None
    above = [line for _, line in text.header]
    if text.version and text.version not in above:
        above.insert(0, text.version)
    remark = _remark(text.lines[key])
    body = _KeptBody(text, key)
    return KeptText(
        above=tuple(_header_lines(tuple(above))),
        head=tuple(_header_lines(text.lines[:key])),
        key_words=" ".join(filter(None, (_words(text.lines[key][2:], key=True), remark))),
        between=tuple(body.between),
        remarks=tuple(body.remarks),
        voices=tuple(body.voices.items()),
    )


def _key_line(lines: tuple[str, ...]) -> int | None:
    """The index of the key field that ends the header."""
    in_text = False
    for index, line in enumerate(lines):
        if line.startswith(("%%begintext", "%%endtext")):
            in_text = line.startswith("%%begin")
        elif line.startswith("K:") and not in_text:
            return index
    return None


def _header_lines(lines: tuple[str, ...]) -> Iterator[str]:
    for line in lines:
        directive = line[2:] if line.startswith(("%%", "I:")) else ""
        if line.startswith(("m:", _MARK)) or directive.strip().startswith(_HOW_TO_READ):
            continue
        if line.startswith("V:"):
            name, _, words = strip_comment(line[2:]).strip().partition(" ")
            parts = (f"V:{name}", _words(words), _remark(line))
            yield " ".join(filter(None, parts))
        else:
            yield line


def _words(text: str, *, key: bool = False) -> str:
    return " ".join(printed_words(strip_comment(text), key=key))


def _remark(line: str) -> str:
    """The comment at the end of a line."""
    return line[len(strip_comment(line)) :].strip()


class _KeptBody:
    """Goes through the body of a tune and parts what is no music from it."""

    def __init__(self, text: TuneText, key: int) -> None:
        self.between: list[KeptLine] = []
        self.remarks: list[KeptLine] = []
        self.voices: dict[str, str] = {}
        self._goes_on = self._in_text = False
        for index in range(key + 1, len(text.lines)):
            self._line(text.lines[index], text.first + index)

    def _line(self, line: str, number: int) -> None:
        bare = line.lstrip()
        if bare.startswith(("%%begintext", "%%endtext")):
            self._in_text = bare.startswith("%%begin")
            self._keep(number, bare)
        elif bare.startswith("%") or self._in_text:
            how = bare.startswith("%%") and bare[2:].strip().startswith(_HOW_TO_READ)
            if not how and not bare.startswith(_MARK):
                self._keep(number, bare if bare.startswith("%") else line)
        elif line[1:2] == ":" and line[0] in _TEXTS:
            self._keep(number, line)
            self._goes_on = True
        elif line.startswith("+:") and self._goes_on:
            self._keep(number, line)
        else:
            self._goes_on = False
            self._music(line, number)

    def _keep(self, number: int, text: str) -> None:
        self.between.append(KeptLine(number, text))

    def _music(self, line: str, number: int) -> None:
        """A line of music, or a field that is written anew with it."""
        if remark := _remark(line):
            self.remarks.append(KeptLine(number, remark))
        bare = strip_comment(line)
        if bare[1:2] == ":" and bare[0] in _BODY_FIELDS:
            self._field(bare[0], bare[2:].strip(), number)
        else:
            for match in _INLINE.finditer(bare):
                self._field(match[1], match[2].strip(), number)

    def _field(self, letter: str, value: str, number: int) -> None:
        if letter == "V":
            name, _, words = value.partition(" ")
            printed = _words(words)
            if printed and name not in self.voices:
                self.voices[name] = printed
        elif letter in _TEXTS or (letter == "Q" and not _QUOTED.sub("", value).strip()):
            self._keep(number, f"{letter}:{value}")
