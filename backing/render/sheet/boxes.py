"""A page for whoever accompanies: the chord grid, bars in boxes, part by part."""

from typing import Any

from backing.music.tune import Jump, Tune
from backing.render.chord_grid import GridCell, chord_grid

_USUAL_COLUMNS = 4


def grid_parts(tune: Tune) -> tuple[int, list[dict[str, Any]]]:
    """How many boxes stand in a row, and the parts of the tune with their rows."""
    parts = chord_grid(tune)
    widest = max((row.column + len(row.cells) for part in parts for row in part.rows), default=1)
    named = len(parts) > 1
    return max(widest, _USUAL_COLUMNS), [
        {
            "name": part.name if named else "",
            "rows": [
                {"column": row.column, "cells": [_cell(cell) for cell in row.cells]}
                for row in part.rows
            ],
        }
        for part in parts
    ]


def _cell(cell: GridCell) -> dict[str, Any]:
    metre = [str(cell.metre)] if cell.metre else []
    jumps = [_JUMPS.get(jump, str(jump)) for jump in cell.jumps]
    return {
        "number": "" if cell.pickup else str(cell.number),
        "words": [printed_chord(word) for word in cell.words],
        "opens": cell.opens_repeat > 0,
        "closes": cell.plays > 0,
        "ending": f"{cell.ending}." if cell.ending else "",
        "jump": " ".join([*metre, *jumps]),
    }


_JUMPS = {Jump.SEGNO: "Segno", Jump.CODA: "Coda", Jump.TO_CODA: "to Coda", Jump.FINE: "Fine"}


def printed_chord(word: str) -> str:
    """A chord's name with printed accidentals; the sign for the bar before as it is.

    >>> printed_chord("F#m7b5/Bb")
    'F♯m7♭5/B♭'
    """
    return word[:1] + word[1:].replace("b", "♭").replace("#", "♯")
