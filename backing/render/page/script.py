"""The page's script: its modules joined into one, in the order of their imports.

A file without a server has no paths from which modules could import each other.
"""

import re
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files

_FIRST = "app"
_IMPORT = re.compile(r'^import\s*\{([^}]*)\}\s*from\s*"[./\w]*?(\w+)\.m?js";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export ((?:async )?(?:function\*?|class|const|let)) (\w+)", re.MULTILINE)
#: Comments that stand on lines of their own.
_COMMENT = re.compile(
    r"^[ \t]*(?:/\*\*(?:(?!\*/).)*\*/|//[^\n]*)[ \t]*\n", re.MULTILINE | re.DOTALL
)


@cache
def page_script() -> str:
    """All modules as one script."""
    return joined_modules(page_modules(), _FIRST)


@cache
def page_modules() -> Mapping[str, str]:
    """The modules by their names."""
    folder = files(__package__).joinpath("js")
    return {
        each.name.removesuffix(".js"): each.read_text(encoding="utf-8")
        for each in folder.iterdir()
        if each.name.endswith(".js")
    }


def joined_modules(texts: Mapping[str, str], first: str) -> str:
    """Modules of JavaScript, by their names, as one script: each keeps its names to itself but for
    those that it exports; `first` comes last, after all that it needs.

    Imports and exports are written in one way only, `import { a, b } from "./name.js";` and
    `export` before what is declared.

    >>> one = 'import { two } from "./b.js";\\nexport const one = two;\\n'
    >>> print(joined_modules({"a": one, "b": "export const two = 2;\\n"}, "a"))
    "use strict";
    const $b = (() => {
    const two = 2;
    return { two };
    })();
    const $a = (() => {
    const { two } = $b;
    const one = two;
    return { one };
    })();
    <BLANKLINE>
    """
    parts = [f"{_closed(name, texts[name])}\n" for name in _in_order(texts, first)]
    return '"use strict";\n' + "".join(parts)


def _in_order(texts: Mapping[str, str], first: str) -> Iterator[str]:
    """The modules that one needs, each before those that import it, itself last."""
    seen: set[str] = set()

    def visit(name: str) -> Iterator[str]:
        if name in seen:
            return
        seen.add(name)
        for match in _IMPORT.finditer(texts[name]):
            yield from visit(match[2])
        yield name

    return visit(first)


def _closed(name: str, text: str) -> str:
    exported = [match[2] for match in _EXPORT.finditer(text)]
    text = _COMMENT.sub("", text)
    text = _IMPORT.sub(lambda match: f"const {{ {_names(match[1])} }} = ${match[2]};\n", text)
    text = _EXPORT.sub(r"\1 \2", text).strip()
    return f"const ${name} = (() => {{\n{text}\nreturn {{ {', '.join(exported)} }};\n}})();"


def _names(listed: str) -> str:
    return ", ".join(listed.replace(",", " ").split())
