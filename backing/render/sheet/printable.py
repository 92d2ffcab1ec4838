"""Which signs of a text the fonts have; what stands for the others."""

import re
from collections.abc import Iterable

from backing.render.sheet.typeset import typeset_text

#: What stands for a sign that no font has.
INSTEAD = "?"
#: Signs that need no looking up: printable ASCII, Latin-1.
_KNOWN = frozenset(map(chr, [*range(0x20, 0x7F), *range(0xA0, 0x100)]))
#: A sign that no font can have (a private one), whose drawing tells that a sign is missing.
_NOWHERE = "\U0010fffd"
_DRAWN = re.compile(r'<use xlink:href="#(\w+)"')


def unprintable(texts: Iterable[str]) -> frozenset[str]:
    """The signs in these texts that the fonts lack."""
    unknown = sorted(filter(str.strip, set().union(*texts) - _KNOWN))
    if not unknown:
        return frozenset()
    lacking, *pages = (_DRAWN.findall(page) for page in typeset_text([_NOWHERE, *unknown]))
    return frozenset(
        sign for sign, drawn in zip(unknown, pages, strict=True) if set(lacking) & set(drawn)
    )
