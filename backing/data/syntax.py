"""Why a text is not TOML, in a player's words and with its line."""

import re
from collections.abc import Iterator

from backing.data.file_kind import FaultAt

_PLACE = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")
#: Texts and comments, in which any sign may stand; a text without its end; a sign outside.
_TOKENS = re.compile(
    r"""\"{3}(?:[^\\]|\\.)*?\"{3}|'{3}.*?'{3}|"(?:[^"\\\n]|\\[^\n])*"|'[^'\n]*'|\#[^\n]*
    |(?P<open>["'][^\n]*) | (?P<odd>[^\0-~])""",
    re.S | re.X,
)
_QUOTES = dict.fromkeys("“”„‟«»″＂", '"') | dict.fromkeys("‘’‚‛′‹›`´", "'")
_UNSEEN = {
    "\ufeff": "a byte order mark (BOM)",
    "\u200b": "a space of no width",
    "\u2028": "a line separator",
    "\u00a0": "a hard space",
    "\u202f": "a hard space",
    "\u3000": "a wide space",
}
_DASHES = "‐‑‒–—―−"
#: A line that begins anew, with a table or a key.
_NEW_LINE = re.compile(r"\s*(\[{1,2}[\w.\" -]+\]{1,2}\s*$|[\w-]+\s*=\s*[\"\[{\w])")
_LONG_NUMBER = re.compile(r"[0-9_]{1000,}")
_LINE = 'a line is key = value, [table] or [[table]]; a comment begins with "#"'
_CLOSED = "what this line adds to was given before, and may not be added to"
_TOO_MUCH = 'the line goes on after its value; shares like "1/2" and texts stand in quotes'
_TEXT_ENDS = 'a text of this line has no end: put " there'
_INLINE = "a { … } stands in one line, without a comma before its end"
#: What tomllib's messages hold, and what a player is told.
_SAID = (
    ("Expected '='", 'expected "=" after the key, as in title = "A name"'),
    ("Expected newline", _TOO_MUCH),
    ("Expected ']", 'expected "]" at the end of the table\'s name'),
    ('Expected \'"""\'', 'the text that begins here with """ has no end: put """ there'),
    ("Expected \"'''\"", "the text that begins here with ''' has no end: put ''' there"),
    ('Expected "\'"', "a text of this line has no end: put ' there"),
    ("Unterminated string", 'a text of this line has no end: put " (or """) there'),
    ("Illegal character '\\n'", _TEXT_ENDS),
    ("Illegal character", "a sign that cannot be seen stands in the text: take it out"),
    ("Found invalid character '\\n'", "a text of this line has no end: put ' there"),
    ("Found invalid character", "a sign that cannot be seen stands here: take it out"),
    ("Invalid value", 'no value: texts stand in "quotes", numbers without'),
    ("Invalid statement", _LINE),
    ("Invalid initial character", f"expected a key; {_INLINE}"),
    ("Unclosed array", 'expected "," before the next item, or "]" at the end of the list'),
    ("Unclosed inline table", f'expected "," before the next key, or "}}"; {_INLINE}'),
    ("Unescaped '\\'", "a \\ in a text is written \\\\, or the text stands in 'single quotes'"),
    ("Invalid hex", "\\u in a text is followed by four hex digits"),
    ("Escaped character", "\\u in a text is followed by the number of a sign"),
    ("Invalid date", "there is no such day or hour"),
    ("Duplicate inline", "a key stands twice in { … }"),
    ("twice", "this table stands twice: put its keys together"),
    ("Cannot overwrite", "this name was given before: each stands once"),
    ("Cannot mutate", _CLOSED),
    ("Cannot redefine", _CLOSED),
)


def syntax_faults(text: str, error: Exception) -> list[FaultAt]:
    """What keeps a text from being TOML; `error` is what tomllib raised."""
    found = [*_odd_signs(text)]
    if isinstance(error, RecursionError):
        return [*found, FaultAt(0, "", "brackets stand in each other hundreds deep: take some out")]
    if not _PLACE.search(str(error)):
        return [*found, *_long_numbers(text)]
    return found if _is_odd(text, str(error)) else [*found, _translated(text, str(error))]


def _odd_signs(text: str) -> Iterator[FaultAt]:
    """A fault for each line with signs outside of texts that only look right."""
    by_line: dict[int, list[str]] = {}
    line, before = 1, 0
    for match in _TOKENS.finditer(text):
        signs = match["odd"] or [sign for sign in match["open"] or "" if _QUOTES.get(sign) == '"']
        if signs:
            line, before = line + text.count("\n", before, match.start()), match.start()
            by_line.setdefault(line, []).extend(signs)
    for line, signs in by_line.items():
        yield from (FaultAt(line, "", said) for said in _named(dict.fromkeys(signs)))


def _is_odd(text: str, message: str) -> bool:
    """True where the fault is a sign that is named already."""
    line, column = _line_and_column(message)
    sign = text.split("\n")[line - 1][column - 1 : column] if line else ""
    return any(sign in odd for odd in (_QUOTES, _UNSEEN, tuple(_DASHES))) or sign > "\x7f"


def _named(signs: dict[str, None]) -> Iterator[str]:
    for plain in ('"', "'"):
        quotes = [sign for sign in signs if _QUOTES.get(sign) == plain]
        if quotes:
            one = "a typographic quote" if len(quotes) == 1 else "typographic quotes"
            yield f"{one} {' '.join(quotes)}: write the plain {plain}"
    for sign in signs:
        if sign in _UNSEEN:
            yield f"{_UNSEEN[sign]}, which cannot be seen: take it out"
        if sign in _DASHES:
            yield f"a long dash {sign}: write the plain -"
    letters = [sign for sign in signs if sign.isalpha()]
    if letters:
        yield f'{" ".join(letters)} outside of quotes: put the whole word in "quotes"'


def _long_numbers(text: str) -> list[FaultAt]:
    """The one fault that tomllib tells without its place."""
    match = _LONG_NUMBER.search(text)
    line = text.count("\n", 0, match.start()) + 1 if match else 0
    count = f" of {len(match[0]):,} digits" if match else ""
    return [FaultAt(line, "", f"a number{count}: give a smaller one")]


def _line_and_column(message: str) -> tuple[int, int]:
    """The place in a message of tomllib's, 0 and 0 at the end of the file."""
    place = _PLACE.search(message)
    return (int(place[1] or 0), int(place[2] or 0)) if place else (0, 0)


def _translated(text: str, message: str) -> FaultAt:
    line, column = _line_and_column(message)
    row = text.split("\n")[line - 1] if line else ""
    opens = not row[: column - 1].strip(" \t[") and _NEW_LINE.match(row)
    if opens and ("Invalid value" in message or "Unclosed array" in message):
        return FaultAt(line, "", 'the list before this line has no end: put "]" there')
    said = next((ours for theirs, ours in _SAID if theirs in message), _LINE)
    if line:
        return FaultAt(line, f"column {column}", said)
    opened = next((match for match in _TOKENS.finditer(text) if match["open"]), None)
    if opened:
        return FaultAt(text.count("\n", 0, opened.start()) + 1, "", said)
    return FaultAt(0, "end of the file", said)
