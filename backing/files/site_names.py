"""Names for the files of a site: of each tune one of its own, the same from run to run.

Small ASCII letters, digits and hyphens: systems write other letters in more than one way, so
that a link to them might lead nowhere on the next one.
"""

from collections.abc import Iterable

from backing.files.naming import name_for

#: The page that lists them all.
INDEX = "index"
_UNTITLED = "tune"


def page_stems(tunes: Iterable[tuple[str, str]]) -> list[str]:
    """For each tune, given by its title and what tells it from others of that title, the name of
    its page without a suffix.

    The first tune of a title has that for its name, whatever others come or go.

    >>> page_stems([("The Kettle", "1"), ("Kettle, the", "2"), ("THE KETTLE!", "7"), ("?", "9")])
    ['the-kettle', 'kettle-the', 'the-kettle-7', 'tune-9']
    """
    asked = [(_plain(title), what) for title, what in tunes]
    taken = {INDEX}
    found: dict[int, str] = {}
    for place, (stem, _) in enumerate(asked):
        if stem and stem not in taken:
            found[place] = stem
            taken.add(stem)
    for place, (stem, what) in enumerate(asked):
        if place not in found:
            found[place] = _free(_plain(f"{stem or _UNTITLED} {what}") or _UNTITLED, taken)
            taken.add(found[place])
    return [found[place] for place in range(len(asked))]


def sheet_stems(stem: str, boxes: Iterable[str]) -> list[str]:
    """For each box the name of a tune's sheet, without a suffix; no page has such a one.

    >>> sheet_stems("the-kettle", ["D/G", "C#/D"]), sheet_stems("the-kettle", [""])
    (['the-kettle_d-g', 'the-kettle_c-sharp-d'], ['the-kettle_sheet'])
    """
    found: list[str] = []
    for box in boxes:
        name = _free(f"{stem}_{_plain(box) or 'sheet'}", set(found))
        found.append(name)
    return found


def _plain(text: str) -> str:
    """A name in ASCII; "" where nothing of the text can be in one."""
    words = [word for word in name_for(text, (), "").split("-") if word.isascii()]
    plain = " ".join(words)
    return name_for(plain, (), "") if plain and plain != name_for("", (), "") else ""


def _free(stem: str, taken: set[str]) -> str:
    """The name, or the first with a number after it that is free."""
    name, number = stem, 1
    while name in taken:
        number += 1
        name = f"{stem}-{number}"
    return name
