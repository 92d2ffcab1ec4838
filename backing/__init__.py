"""Backings to practise with: from a tune and an accompaniment style to a practice file.

Reads, finds chords, arranges, fits and fingers, moves to another box, performs, renders and
saves, each in a line.  This is what `backing make --box D/G --percent 60 -o loop.mid` does::

    tune = backing.read_tune("reel.abc").tune
    plan = backing.Plan((backing.Step(tempo=Fraction(60, 100)),))
    asked = backing.Asked(plan, styles=backing.StyleShelf(), box=backing.load_box("D/G"))
    performance = backing.performance_of(backing.make_backing(tune, asked))
    backing.save("loop.mid", backing.render_midi(performance))

Positions and lengths are `Fraction`s of a whole note.  All values are frozen.  What a player
can mend is raised as a `BackingError`, which says what, where, and what to do; what is odd but
playable is a `Notice`, and lies in the value that was made.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from backing.arranging.arrange import Manner, arrange, arrange_faces
    from backing.arranging.arrangement import Arrangement, Role
    from backing.arranging.faces import Faces, StyleTurns
    from backing.arranging.style import Style
    from backing.box.costs import Costs
    from backing.box.fingering import Fingering, finger
    from backing.box.fit import Fit, fit
    from backing.box.handout import ForBox, handout
    from backing.box.layout import Layout
    from backing.box.line import MelodyLine, line_of
    from backing.box.moving import Moved, move_to_box
    from backing.errors import (
        BackingError,
        BoxError,
        FileError,
        Notice,
        PracticeError,
        StyleError,
        TuneError,
    )
    from backing.files import (
        Reading,
        StyleShelf,
        box_names,
        load_box,
        load_costs,
        load_style,
        read_book,
        read_tune,
        save,
        style_names,
    )
    from backing.files.audio import Saved
    from backing.files.sound import save_sound
    from backing.files.tags import Tags
    from backing.harmony.palette import Palette
    from backing.harmony.source import ChordSource
    from backing.harmony.suggest import Harmony, suggest_chords, with_chords
    from backing.music.key import Key, parse_key
    from backing.music.saying import Fact, said_in
    from backing.music.tempo import FeltBeats, Tempo
    from backing.music.transpose import Interval, interval_to_key, move_tune
    from backing.music.tune import Tune
    from backing.music.unfold import PlayedBar, unfold
    from backing.parse.abc import TuneText, parse_abc, tune_of
    from backing.parse.midi import parse_midi
    from backing.parse.musicxml import parse_musicxml
    from backing.practice.asked import Asked
    from backing.practice.backing import Backing, make_backing, performance_of, seamless_of
    from backing.practice.passages import Bars, Join, OneSection, Whole
    from backing.practice.performance import Performance, perform, perform_seamless
    from backing.practice.plan import Click, Close, Ears, Grow, LeadIn, Plan, Step
    from backing.render.abc import render_abc
    from backing.render.midi import render_midi
    from backing.render.musicxml import render_musicxml
    from backing.render.sheet.look import SheetLook, SheetPage
    from backing.render.sheet.sheets import Sheet, render_book, render_sheet

#: The module that each name lives in; it is loaded when the name is first asked for, so that
#: a command waits for nothing that it does not use.
_HOMES = {
    "backing.arranging.arrange": ("Manner", "arrange", "arrange_faces"),
    "backing.arranging.arrangement": ("Arrangement", "Role"),
    "backing.arranging.faces": ("Faces", "StyleTurns"),
    "backing.arranging.style": ("Style",),
    "backing.box.costs": ("Costs",),
    "backing.box.fingering": ("Fingering", "finger"),
    "backing.box.fit": ("Fit", "fit"),
    "backing.box.handout": ("ForBox", "handout"),
    "backing.box.layout": ("Layout",),
    "backing.box.line": ("MelodyLine", "line_of"),
    "backing.box.moving": ("Moved", "move_to_box"),
    "backing.errors": (
        "BackingError",
        "BoxError",
        "FileError",
        "Notice",
        "PracticeError",
        "StyleError",
        "TuneError",
    ),
    "backing.files": (
        "Reading",
        "StyleShelf",
        "box_names",
        "load_box",
        "load_costs",
        "load_style",
        "read_book",
        "read_tune",
        "save",
        "style_names",
    ),
    "backing.files.audio": ("Saved",),
    "backing.files.sound": ("save_sound",),
    "backing.files.tags": ("Tags",),
    "backing.harmony.palette": ("Palette",),
    "backing.harmony.source": ("ChordSource",),
    "backing.harmony.suggest": ("Harmony", "suggest_chords", "with_chords"),
    "backing.music.key": ("Key", "parse_key"),
    "backing.music.saying": ("Fact", "said_in"),
    "backing.music.tempo": ("FeltBeats", "Tempo"),
    "backing.music.transpose": ("Interval", "interval_to_key", "move_tune"),
    "backing.music.tune": ("Tune",),
    "backing.music.unfold": ("PlayedBar", "unfold"),
    "backing.parse.abc": ("TuneText", "parse_abc", "tune_of"),
    "backing.parse.midi": ("parse_midi",),
    "backing.parse.musicxml": ("parse_musicxml",),
    "backing.practice.asked": ("Asked",),
    "backing.practice.backing": ("Backing", "make_backing", "performance_of", "seamless_of"),
    "backing.practice.performance": ("Performance", "perform", "perform_seamless"),
    "backing.practice.passages": ("Bars", "Join", "OneSection", "Whole"),
    "backing.practice.plan": ("Click", "Close", "Ears", "Grow", "LeadIn", "Plan", "Step"),
    "backing.render.abc": ("render_abc",),
    "backing.render.midi": ("render_midi",),
    "backing.render.musicxml": ("render_musicxml",),
    "backing.render.sheet.look": ("SheetLook", "SheetPage"),
    "backing.render.sheet.sheets": ("Sheet", "render_book", "render_sheet"),
}

__all__ = [
    "Arrangement",
    "Asked",
    "Backing",
    "BackingError",
    "Bars",
    "BoxError",
    "ChordSource",
    "Click",
    "Close",
    "Costs",
    "Ears",
    "Faces",
    "Fact",
    "FeltBeats",
    "FileError",
    "Fingering",
    "Fit",
    "ForBox",
    "Grow",
    "Harmony",
    "Interval",
    "Join",
    "Key",
    "Layout",
    "LeadIn",
    "Manner",
    "MelodyLine",
    "Moved",
    "Notice",
    "OneSection",
    "Palette",
    "Performance",
    "Plan",
    "PlayedBar",
    "PracticeError",
    "Reading",
    "Role",
    "Saved",
    "Sheet",
    "SheetLook",
    "SheetPage",
    "Step",
    "Style",
    "StyleError",
    "StyleShelf",
    "StyleTurns",
    "Tags",
    "Tempo",
    "Tune",
    "TuneError",
    "TuneText",
    "Whole",
    "arrange",
    "arrange_faces",
    "box_names",
    "finger",
    "fit",
    "handout",
    "interval_to_key",
    "line_of",
    "load_box",
    "load_costs",
    "load_style",
    "make_backing",
    "move_to_box",
    "move_tune",
    "parse_abc",
    "parse_key",
    "parse_midi",
    "parse_musicxml",
    "perform",
    "perform_seamless",
    "performance_of",
    "read_book",
    "read_tune",
    "render_abc",
    "render_book",
    "render_midi",
    "render_musicxml",
    "render_sheet",
    "said_in",
    "save",
    "save_sound",
    "seamless_of",
    "style_names",
    "suggest_chords",
    "tune_of",
    "unfold",
    "with_chords",
]

if not TYPE_CHECKING:  # a type checker knows the names from above, and no others

    def __getattr__(name: str) -> Any:
        for module, names in _HOMES.items():
            if name in names:
                return getattr(import_module(module), name)
        raise AttributeError(f"backing has no {name!r}")


def __dir__() -> list[str]:
    return list(__all__)
