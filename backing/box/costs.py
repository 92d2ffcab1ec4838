"""What a fingering costs: one table of named costs, four profiles, and a player's own.

A cost of 1 is a change of bellows off the beat between quavers 180 ms apart.  They are
working values, no source; a player may change each of them.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from backing.data.file_kind import FileKind
from backing.data.reader import DataReader
from backing.data.renamed import name_now
from backing.errors import BoxError, Notice, did_you_mean

PROFILES = ("along-the-row", "cross-row", "basses-first", "middle")
USUAL = "middle"
#: The pace at which costs that depend on it count once, and how far they grow and shrink.
PACE_MS, SLACKEST, TIGHTEST = 180, 0.3, 3.0

#: One line a cost, one column a profile; "a button", "a beat" and "a note" say what it counts.
#: Those marked * go by the pace: twice as dear between notes 90 ms apart.
_TABLE: dict[str, tuple[float, float, float, float]] = {
    # bellows
    "change-off-beat": (0.5, 1.8, 1.0, 1.0),  # *
    "change-on-beat": (0.25, 1.6, 0.6, 0.6),  # *
    "change-at-phrase": (-0.2, 0.0, 0.0, 0.0),  # also after a rest
    "flip": (0.2, 1.0, 0.5, 0.5),  # one note in the other direction, and back
    "change-on-repeated": (1.0, 1.5, 1.0, 1.0),
    "change-in-slur": (1.5, 2.0, 1.5, 1.5),
    # rows
    "cross": (2.0, 0.35, 0.8, 0.8),
    "cross-and-change": (1.0, 0.5, 0.5, 0.5),
    "slide": (0.6, 0.6, 0.6, 0.6),  # * the same finger, from one row to the other
    "cross-on-repeated": (0.5, 0.5, 0.5, 0.5),  # no source: a player stays on the button
    "off-home-row": (0.3, 0.0, 0.15, 0.15),  # a note
    # hand
    "shift": (0.4, 0.4, 0.4, 0.4),
    "shift-a-button": (0.25, 0.25, 0.25, 0.25),
    "shift-at-rest": (0.5, 0.5, 0.5, 0.5),  # times so much
    "shift-in-run": (2.0, 2.0, 2.0, 2.0),  # times so much
    "hop": (0.8, 0.8, 0.8, 0.8),  # * a finger reaches one button beyond the four
    "first-button": (0.8, 0.8, 0.8, 0.8),
    "stop-of-three": (0.2, 0.2, 0.2, 0.2),  # a double stop spread to three buttons
    "stop-of-four": (0.8, 0.8, 0.8, 0.8),
    # left hand
    "chord-missing": (0.5, 1.5, 4.0, 1.5),
    "missing-on-one": (1.0, 1.0, 1.0, 1.0),  # times so much
    "missing-on-beat": (0.6, 0.6, 0.6, 0.6),  # times so much
    "missing-off-beat": (0.1, 0.1, 0.1, 0.1),  # times so much
    "missing-at-start": (2.5, 2.5, 2.5, 2.5),  # times so much, on a part's first bar line
    "missing-at-end": (2.5, 2.5, 2.5, 2.5),  # times so much, on a part's last note
    "substitute": (0.4, 0.4, 0.4, 0.4),  # of a missing chord
    "bass-alone": (0.5, 0.5, 0.5, 0.5),  # of a missing chord
    # air, in one run
    "air-to-three-quarters": (0.2, 0.2, 0.2, 0.2),  # a beat, past half of the travel
    "air-beyond": (1.0, 1.0, 1.0, 1.0),  # a beat
    "air-past-end": (10.0, 10.0, 10.0, 10.0),  # a beat: as good as forbidden
    "drift": (0.5, 0.5, 0.5, 0.5),  # a quarter of the travel, a part
    # settings, no source, working choices
    "run-ms": (125.0, 125.0, 125.0, 125.0),  # notes closer than this are a fast run
    "travel-seconds": (20.0, 20.0, 20.0, 20.0),  # one melody note, from closed to open
    "left-hand-air": (0.6, 0.6, 0.6, 0.6),  # bass and chord by turns, in melody notes
}
#: What may lie below nothing.
_MAY_PAY = ("change-at-phrase",)
_POSITIVE = ("travel-seconds",)
_MOST = Fraction(1000)

COSTS = FileKind(
    noun="costs",
    error=BoxError,
    pattern='a file of costs has lines like profile = "middle" and cross = 0.9',
)


@dataclass(frozen=True, slots=True)
class Costs:
    """A profile: its name and each cost of the table; `notices` are odd things about how it was
    asked for.

    >>> profile("along-the-row")["cross"]
    2.0
    """

    name: str
    values: tuple[tuple[str, float], ...]
    notices: tuple[Notice, ...] = field(default=(), compare=False)

    def __getitem__(self, name: str) -> float:
        return dict(self.values)[name]

    def table(self) -> dict[str, float]:
        """Each cost by its name."""
        return dict(self.values)


def is_profile(name: str) -> bool:
    """True for the name of a profile, an old one too."""
    return name_now("profile", name).name in PROFILES


def profile(name: str = USUAL) -> Costs:
    """One of the four profiles; BoxError for another name.

    `along-the-row` would rather change than cross, `cross-row` rather cross than change,
    `basses-first` gives way to the left hand, `middle` lies between.
    """
    now = name_now("profile", name)
    if now.name not in PROFILES:
        raise BoxError(
            f"there is no profile {name!r}",
            did_you_mean(name, PROFILES) or f"the profiles are {', '.join(PROFILES)}",
        )
    column = PROFILES.index(now.name)
    values = tuple((cost, row[column]) for cost, row in _TABLE.items())
    return Costs(now.name, values, now.notices)


def parse_costs(text: str, source: str = "") -> Costs:
    """A player's own costs: TOML with `profile` to start from, and costs by their names.

    Raises BoxError with every fault at once.

    >>> parse_costs('profile = "cross-row"\\ncross = 0.5')["cross"]
    0.5
    """
    reader = _CostsReader(text, source)
    start = reader.start()
    changed = reader.costs()
    reader.check()
    costs = profile(start)
    notices = name_now("profile", start, source, reader.line(("profile",))).notices
    values: Mapping[str, float] = costs.table() | changed
    return Costs(source or costs.name, tuple(values.items()), notices)


class _CostsReader(DataReader):
    """Checks a file of costs key by key and keeps every fault."""

    kind = COSTS

    def start(self) -> str:
        """The profile to start from."""
        name = self.data.get("profile", USUAL)
        if isinstance(name, str) and is_profile(name):
            return name
        return self.word(name, ("profile",), PROFILES) or USUAL

    def costs(self) -> dict[str, float]:
        """The costs that it names."""
        self.known(self.data, (), ("profile", *_TABLE))
        given = {name: value for name, value in self.data.items() if name in _TABLE}
        return {name: float(self.cost(name, value)) for name, value in given.items()}

    def cost(self, name: str, value: object) -> Fraction:
        number = self.number(value, (name,), -_MOST if name in _MAY_PAY else Fraction(0), _MOST)
        if name in _POSITIVE and not number:
            self.fault((name,), "expected a number above 0")
        return number


def pace(milliseconds: float) -> float:
    """How dear a quick movement is between two notes so far apart.

    >>> pace(180), pace(90), pace(5000)
    (1.0, 2.0, 0.3)
    """
    return min(TIGHTEST, max(SLACKEST, PACE_MS / max(milliseconds, 1.0)))
