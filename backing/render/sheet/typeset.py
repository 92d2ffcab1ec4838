"""Pages from what stands on them: PDF, SVG or PNG, set by Typst.

The looks are in sheet.typ; here goes in what it reads.  The fonts are those that Typst brings,
so that a sheet looks the same on every machine, and the same sheet is the same bytes.
"""

import json
from collections.abc import Mapping, Sequence
from importlib.resources import files
from typing import Any, Literal

import typst

from backing.render.sheet.look import TEXT_FONT

PageFormat = Literal["pdf", "svg", "png"]
#: Dots an inch of a PNG: an A4 page is 1240 dots wide.
_PPI = 150.0
#: Its stubs do not know yet that it takes several files by their names.
_compile: Any = typst.compile
_fonts: list[typst.Fonts] = []


def typeset(
    data: Mapping[str, Any], drawings: Mapping[str, str], kind: PageFormat
) -> tuple[bytes, ...]:
    """A file for all pages together (PDF), or one for each of them (SVG, PNG).

    `data` is what sheet.typ reads as data.json; `drawings` are SVG files by their names there.
    """
    inputs = {
        "main.typ": files(__package__).joinpath("sheet.typ").read_bytes(),
        "data.json": json.dumps(data, ensure_ascii=False).encode("utf-8"),
        **{name: svg.encode("utf-8") for name, svg in drawings.items()},
    }
    made = _compile(
        inputs,
        format=kind,
        ppi=_PPI if kind == "png" else None,
        font_paths=_own_fonts(),
        ignore_system_fonts=True,
        timestamp=0,
        sys_inputs={"font": TEXT_FONT},
    )
    return (made,) if isinstance(made, bytes) else tuple(made)


def _own_fonts() -> typst.Fonts:
    """The fonts that Typst brings; found once."""
    if not _fonts:
        _fonts.append(typst.Fonts(include_system_fonts=False))
    return _fonts[0]


def typeset_text(texts: Sequence[str]) -> list[str]:
    """Each text as a drawing (SVG) of its own."""
    source = (
        "#set page(width: auto, height: auto)\n#set text(font: sys.inputs.font)\n"
        '#json("data.json").map(sign => page(sign)).join()\n'
    )
    made = _compile(
        {"main.typ": source.encode(), "data.json": json.dumps(list(texts)).encode("utf-8")},
        format="svg",
        font_paths=_own_fonts(),
        ignore_system_fonts=True,
        sys_inputs={"font": TEXT_FONT},
    )
    return [page.decode("utf-8") for page in ([made] if isinstance(made, bytes) else made)]
