"""Text escapes of ABC: accents, entities, font switches (ABC 2.1 clause 8.2)."""

import re
import unicodedata

_COMBINING = {
    "`": "\u0300", "'": "\u0301", "^": "\u0302", "~": "\u0303", '"': "\u0308", "c": "\u0327",
    "u": "\u0306", "v": "\u030c", "H": "\u030b", ",": "\u0327", "=": "\u0304", ".": "\u0307",
    ";": "\u0328",
}  # fmt: skip
_WHOLE = {
    "AA": "Å", "aa": "å", "AE": "Æ", "ae": "æ", "OE": "Œ", "oe": "œ", "ss": "ß", "DH": "Ð",
    "dh": "ð", "TH": "Þ", "th": "þ", "/O": "Ø", "/o": "ø", "-D": "Đ", "-d": "đ",
}  # fmt: skip
_ESCAPE = re.compile(
    r"\\u([0-9A-Fa-f]{4})|\\U([0-9A-Fa-f]{8})|\\([A-Za-z/-][A-Za-z])|\\([`'^~\",=.;])([A-Za-z])"
    r"|\\([\\%&])|\$[0-4]"
)


def unescape(text: str) -> str:
    """The text that an ABC string means.

    >>> unescape("Caf\\\\'e \\\\u266d &amp; Co")
    'Café ♭ & Co'
    """
    if "\\" not in text and "&" not in text and "$" not in text:
        return text
    plain = _ESCAPE.sub(_meant, text)
    if "&" in plain:
        import html  # a large table that few tunes need

        plain = html.unescape(plain)
    return plain.replace("\0", "&")


def _meant(match: re.Match[str]) -> str:
    four, eight, pair, accent, letter, literal = match.groups()
    if four or eight:
        code = int(four or eight, 16)
        return chr(code) if code < 0x110000 and not 0xD800 <= code < 0xE000 else ""
    if pair in _WHOLE:
        return _WHOLE[pair]
    if pair and pair[0] in _COMBINING:
        return unicodedata.normalize("NFC", pair[1] + _COMBINING[pair[0]])
    if accent:
        return unicodedata.normalize("NFC", letter + _COMBINING[accent])
    if literal:
        return "\0" if literal == "&" else literal
    return "" if match[0].startswith("$") else match[0]
