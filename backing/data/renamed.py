"""What players' choices were called before: old names are still read, and it is said."""

from typing import NamedTuple

from backing.errors import Notice, place

#: By what is chosen: the old name, and the one that it has now.
OLD_NAMES = {
    "style": {"session": "sparing"},
    "profile": {"balance": "middle"},
}


class NameNow(NamedTuple):
    """The name that a choice has now, and what is to be said of the old one."""

    name: str
    notices: tuple[Notice, ...] = ()


def name_now(what: str, name: str, source: str = "", line: int = 0) -> NameNow:
    """The name that a choice has now; `source` and `line` tell where the old one is written.

    >>> name_now("profile", "balance").name, name_now("profile", "cross-row")
    ('middle', NameNow(name='cross-row', notices=()))
    """
    now = OLD_NAMES[what].get(name)
    if now is None:
        return NameNow(name)
    where = place(source, line, 0)
    said = f"{where}: " if where else ""
    return NameNow(now, (Notice(f"{said}the {what} {name} is called {now} now", f"write {now}"),))
