"""How wide a text is in Times: the engraver makes room for that, whatever font it is shown in."""

import re
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files

_LETTER = re.compile(r'<g c="(\w+)"(?:[^>]*h-a-x="([\d.]+)")?')
_EM = 2048
#: How far the letters reach of which Verovio's tables say nothing, by style: 722 and 500
#: thousandths of an em (A, w; italic a, o: Adobe's font metrics of Times).
_USUAL = {"": 1479.0, "-bold": 1479.0, "-italic": 1024.0, "-bold-italic": 1024.0}
_NO_BREAK = "\u00a0"


@lru_cache(maxsize=1024)
def text_width(text: str, *, bold: bool = False, italic: bool = False) -> float | None:
    """The width of a text in ems; None where it has signs that Times has not.

    >>> text_width("push"), text_width("push", bold=True), text_width("♭")
    (1.88916015625, 2.0576171875, None)
    """
    widths = _advances("-bold" * bold + "-italic" * italic)
    if any(sign not in widths for sign in text):
        return None
    return sum(widths[sign] for sign in text) / _EM


@lru_cache(maxsize=4)
def _advances(style: str) -> Mapping[str, float]:
    """How far each letter reaches, in a style ("-bold"); tables name letters in UTF-8."""
    file = files("verovio").joinpath("data", "text", f"Times{style}.xml")
    widths = {
        bytes.fromhex(code).decode("utf-8"): float(reach or _USUAL[style])
        for code, reach in _LETTER.findall(file.read_text(encoding="utf-8"))
    }
    return {**widths, _NO_BREAK: widths[" "]}
