"""Backings to practise with: from a tune and an accompaniment style to a practice file.

The few names that a script needs::

    reading = backing.read_tune(Path("reel.abc"))
    arrangement = backing.arrange(reading.tune, backing.load_style("alternating"))
    plan = backing.Plan((backing.Step(backing.Bars(5, 6), times=4),))
    performance = backing.perform(arrangement, plan, reading.tune)
    backing.save(Path("loop.mid"), backing.render_midi(performance))
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from backing.arranging.arrange import Manner, arrange
    from backing.arranging.arrangement import Role
    from backing.errors import BackingError
    from backing.files import load_style, read_tune, save
    from backing.music.unfold import unfold
    from backing.parse.abc import parse_abc
    from backing.practice.performance import perform
    from backing.practice.plan import Bars, OneSection, Plan, Step, Whole
    from backing.render.midi import render_midi

#: The module that each name lives in; it is loaded when the name is first asked for, so that
#: a command waits for nothing that it does not use.
_HOMES = {
    "backing.arranging.arrange": ("Manner", "arrange"),
    "backing.arranging.arrangement": ("Role",),
    "backing.errors": ("BackingError",),
    "backing.files": ("load_style", "read_tune", "save"),
    "backing.music.unfold": ("unfold",),
    "backing.parse.abc": ("parse_abc",),
    "backing.practice.performance": ("perform",),
    "backing.practice.plan": ("Bars", "OneSection", "Plan", "Step", "Whole"),
    "backing.render.midi": ("render_midi",),
}

__all__ = [
    "BackingError",
    "Bars",
    "Manner",
    "OneSection",
    "Plan",
    "Role",
    "Step",
    "Whole",
    "arrange",
    "load_style",
    "parse_abc",
    "perform",
    "read_tune",
    "render_midi",
    "save",
    "unfold",
]


def __getattr__(name: str) -> Any:
    for module, names in _HOMES.items():
        if name in names:
            return getattr(import_module(module), name)
    raise AttributeError(f"backing has no {name!r}")
