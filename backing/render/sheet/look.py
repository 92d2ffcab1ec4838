"""What a sheet is to look like, and what stands on its pages."""

from typing import NamedTuple

from backing.box.fit import Fit
from backing.language.tables import ENGLISH, text_in
from backing.music.saying import Fact
from backing.music.tune import Tune

#: Width and height of each paper in millimetres (ISO 216; ANSI/ASME Y14.1), and what Typst
#: calls it.
PAPERS = {"A4": (210.0, 297.0, "a4"), "letter": (215.9, 279.4, "us-letter")}
#: The height of a staff in millimetres, in usual print and in large print: at half a metre a
#: button's number can be read at a glance, at a metre in large print.
STAFF_HEIGHT, LARGE_STAFF = 7.0, 9.8
#: The font of all text; it comes with Typst.
TEXT_FONT = "Libertinus Serif"
TEXT_SIZE, LARGE_TEXT = 10.5, 14.0
MARGIN = 15.0


class SheetLook(NamedTuple):
    """`kind`: "staff" notation, "strip" (buttons alone, time to scale) or chord "grid".

    `buttons` go under the notes of a page that is for a box; `fingers` above them; `air` says
    where the air button goes, `hard` marks the hardest bars.  It speaks one of the LANGUAGES.
    """

    paper: str = "A4"
    kind: str = "staff"
    large: bool = False
    buttons: bool = True
    fingers: bool = False
    air: bool = False
    hard: bool = False
    language: str = ENGLISH

    @property
    def ways(self) -> tuple[str, str]:
        """What push and pull are called."""
        return text_in(self.language, "push"), text_in(self.language, "pull")

    @property
    def width(self) -> float:
        """The width of the music in millimetres."""
        return PAPERS[self.paper][0] - 2 * MARGIN

    @property
    def height(self) -> float:
        """The height of the paper in millimetres."""
        return PAPERS[self.paper][1]

    @property
    def staff(self) -> float:
        """The height of a staff in millimetres."""
        return LARGE_STAFF if self.large else STAFF_HEIGHT

    @property
    def text(self) -> float:
        """The size of text in points."""
        return LARGE_TEXT if self.large else TEXT_SIZE


class SheetPage(NamedTuple):
    """A tune on a sheet: as it is written there; how it goes on a box, where it is for one; and
    what there is to say about it under its title."""

    tune: Tune
    fit: Fit | None = None
    said: tuple[Fact, ...] = ()
