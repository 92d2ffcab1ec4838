"""Whether more than one tune is practised: a practice file, or a set."""

from pathlib import Path
from typing import TYPE_CHECKING

from backing.cli.wish import Wish
from backing.files.toml_files import is_toml
from backing.language.tables import ENGLISH

if TYPE_CHECKING:
    from backing.cli.practice_making import PracticeAsked


def practice_asked(path: Path, wish: Wish, language: str = ENGLISH) -> "PracticeAsked | None":
    """The practice that was asked for: that of a practice file, or a set of tunes; None where it
    is of one tune.  A set is called what it is in one of the LANGUAGES.

    Raises BackingError where it cannot be had.
    """
    if not (is_toml(path.name) or wish.then):
        return None
    from backing.cli.practice_making import practice_at, practice_in_a_set

    return practice_in_a_set(path, wish, language) if wish.then else practice_at(path, wish)
