"""Names for files that tell what is in them, and that every system takes."""

from unicodedata import category, normalize

#: Letters that no accent can be taken off from, and signs that are said.
_SAID = str.maketrans(
    {
        "%": " percent ", "&": " and ", "#": " sharp ", "♯": " sharp ", "♭": " flat ",
        "ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th",
        "ı": "i", "'": "", "’": "", "‘": "", "ʼ": "",
    }
)  # fmt: skip
#: What Windows takes for devices, whatever suffix they have.
_DEVICES = {
    "con", "prn", "aux", "nul",
    *(f"{port}{number}" for port in ("com", "lpt") for number in range(10)),
}  # fmt: skip
#: Bytes of UTF-8.  A name may have 255 on Linux, and Windows counts the folders with it.
_MOST_BYTES = 120
_MOST_WHAT = 80
_UNTITLED = "tune"


def name_for(title: str, what: tuple[str, ...], suffix: str) -> str:
    """A file's name from a tune's title and what of it is in the file; `suffix` has its dot.

    Small letters, digits and hyphens; accents go, letters that are not Latin stay.  Where it
    is too long whole words of the title go first.

    >>> name_for("The Lock-Keeper's Kettle", ("bars 5-6", "60 %"), ".mid")
    'the-lock-keepers-kettle-bars-5-6-60-percent.mid'
    >>> name_for("Café: où?", (), ".ogg"), name_for("CON", (), ".mid"), name_for("?", (), ".mid")
    ('cafe-ou.ogg', 'tune-con.mid', 'tune.mid')
    """
    told = _cut(_words(" ".join(what)), _MOST_WHAT)
    named = _cut(_words(title), _MOST_BYTES - _bytes(told) - 1) or [_UNTITLED]
    stem = "-".join(named + told)
    return (f"{_UNTITLED}-{stem}" if stem in _DEVICES else stem) + suffix


def _words(text: str) -> list[str]:
    """The words of a text as they may stand in a name."""
    apart = normalize("NFKD", text.lower().translate(_SAID))
    bare = "".join(letter for letter in apart if not "\u0300" <= letter <= "\u036f")
    whole = normalize("NFC", bare)
    return "".join(letter if category(letter)[0] in "LMN" else " " for letter in whole).split()


def _cut(words: list[str], most: int) -> list[str]:
    """As many words as fit into so many bytes; of a first one that does not, its beginning."""
    kept: list[str] = []
    for word in words:
        if _bytes([*kept, word]) > most:
            break
        kept.append(word)
    if words and not kept:
        kept.append(words[0].encode()[:most].decode(errors="ignore"))
    return kept


def _bytes(words: list[str]) -> int:
    return len("-".join(words).encode())
