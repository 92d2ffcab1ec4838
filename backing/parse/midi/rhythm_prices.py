"""What the rhythms of a beat cost in a tune: by how often they are printed, and it has them."""

from collections import Counter
from dataclasses import dataclass, field

from backing.parse.midi.divisions import BeatCell, Table, price_of, printed_cells, share_of

_FIRST_DEVIATION = 12.0
#: How many beats the rhythms of the collections weigh beside those of the tune.
_PRIOR = 30.0


@dataclass(slots=True)
class RhythmPrices:
    """What rhythms cost, by how often the tune has them; how late its onsets are, and by how
    much they vary, in milliseconds."""

    counts: Counter[tuple[int, BeatCell]] = field(default_factory=Counter)
    totals: Counter[int] = field(default_factory=Counter)
    deviation: float = _FIRST_DEVIATION
    shift: float = 0.0
    known: dict[tuple[int, BeatCell, bool], float] = field(default_factory=dict)
    tables: dict[tuple[int, int], list[tuple[float, BeatCell]]] = field(default_factory=dict)

    def usual(self, table: Table, count: int) -> list[tuple[float, BeatCell]]:
        """The rhythms of so many notes that are printed, or that the tune has, with their
        prices, the cheapest first."""
        key = table.unit, count
        if key not in self.tables:
            own = {cell for unit, cell in self.counts if (unit, len(cell)) == key}
            cells = own.union(printed_cells(table.unit, count)) if count else {BeatCell()}
            self.tables[key] = sorted(
                (self.of(table, cell) if cell else 0.0, cell) for cell in cells
            )
        return self.tables[key]

    def of(self, table: Table, cell: BeatCell, *, tuplet: bool = False) -> float:
        """What a rhythm costs."""
        key = table.unit, cell, tuplet
        if key not in self.known:
            share = share_of(table, cell, tuplet=tuplet) * _PRIOR + self.counts[key[:2]]
            self.known[key] = price_of(share / (_PRIOR + self.totals[table.unit]))
        return self.known[key]
