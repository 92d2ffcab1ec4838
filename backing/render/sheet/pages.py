"""One page of a sheet: what stands on it, as data for the setting."""

from collections.abc import Iterator, Mapping
from itertools import groupby
from typing import Any, NamedTuple

from backing.language.tables import ENGLISH, language_table, name_in
from backing.music.played import dance_for, tempo_for
from backing.music.saying import Fact, key_said, said_in, title_said
from backing.music.tempo import Tempo, decimal
from backing.music.tune import Tune
from backing.render.musicxml.elements import beat_unit
from backing.render.sheet.boxes import grid_parts
from backing.render.sheet.legend import board_of, legend_of
from backing.render.sheet.look import SheetLook, SheetPage
from backing.render.sheet.music_text import note_drawing
from backing.render.sheet.staff import music_of
from backing.render.sheet.strip import strip_rows

#: What title, foot and legend take of a page, in millimetres, in usual print.
_HEAD, _SAID, _SIGN, _BOARD, _SOURCE, _EDGES = 24.0, 5.5, 5.2, 24.0, 7.0, 23.0
_WORDS = "W"
#: A title, or a name, that is longer is cut: it would fill the page.
_MOST_LETTERS = 300


class LaidPage(NamedTuple):
    """A page's data, and the drawings that it shows."""

    data: dict[str, Any]
    drawings: Mapping[str, str]


def lay_page(page: SheetPage, look: SheetLook, name: str) -> LaidPage:
    """A page laid out; `name` is what the names of its drawings begin with."""
    tune, found = page.tune, page.fit
    drawings: dict[str, str] = {}
    tempo = tempo_for(tune, dance_for(tune))
    board = look.buttons and look.kind != "grid"
    data: dict[str, Any] = {
        "kind": look.kind,
        "mark": "",
        "title": title_of(tune, look.language),
        "also": list(map(shortened, tune.titles[1:])),
        "by": list(map(shortened, tune.composers)),
        "facts": facts_of(tune, look.language),
        "tempo": _tempo(tempo, drawings, name),
        "box": found.layout.name if found else "",
        "said": [said_in(fact, look.language) for fact in page.said],
        "signs": legend_of(tune, found, look) if found and look.kind != "grid" else [],
        "board": board_of(found.layout, look.language) if found and board else [],
        "words": list(_stanzas(tune)),
        "source": "  ".join(_sources(tune, look.language)),
    }
    if look.kind == "grid":
        data["columns"], data["grid"] = grid_parts(tune)
    elif look.kind == "strip" and found is not None:
        data["rows"] = strip_rows(tune, found, look)
    else:
        music = music_of(page, look, name, _room(data, look))
        data["parts"], data["gap"] = music.parts, music.gap
        drawings.update(music.drawings)
    return LaidPage(data, drawings)


def title_of(tune: Tune, language: str) -> str:
    """What a tune is called at the head of a page."""
    return shortened(title_said(tune.title, language))


def shortened(text: str) -> str:
    """A text as long as fits at the head of a page."""
    return text if len(text) <= _MOST_LETTERS else f"{text[: _MOST_LETTERS - 1]}…"


def _room(data: Mapping[str, Any], look: SheetLook) -> float:
    """What is left of a page for the music, in millimetres."""
    text = _HEAD + _SAID * bool(data["said"]) + _SOURCE * bool(data["source"])
    text += max(_SIGN * len(data["signs"]), _BOARD * bool(data["board"]))
    text += _SIGN * sum(1 + verse.count("\n") for verse in data["words"]) + _SIGN * len(
        data["also"]
    )
    return look.height - _EDGES - float(text) * look.text / SheetLook().text


def facts_of(tune: Tune, language: str = ENGLISH) -> list[str]:
    """Dance, key and metre, where a tune has them."""
    dance = name_in(language, "dances", tune.dance)
    metre = "" if tune.metre.free else str(tune.metre)
    return [fact for fact in (dance, named_key(tune, language), metre) if fact]


def named_key(tune: Tune, language: str = ENGLISH) -> str:
    """The key, where a tune names one."""
    return "" if tune.key.mode == "none" else key_said(str(tune.key), language)


def _sources(tune: Tune, language: str) -> Iterator[str]:
    """Where a tune comes from, as far as it says so."""
    names = language_table(language)["sources"]
    for field, text in tune.texts:
        if field in names:
            yield said_in(Fact("source", {"what": names[field], "text": text}), language)


def _stanzas(tune: Tune) -> Iterator[str]:
    """The words after a tune, verse by verse: an empty line parts them."""
    lines = [text for field, text in tune.texts if field == _WORDS]
    for sung, verse in groupby(lines, key=lambda line: bool(line.strip())):
        if sung:
            yield "\n".join(verse)


def _tempo(tempo: Tempo, drawings: dict[str, str], name: str) -> dict[str, str]:
    """The tempo: its note as a drawing, and how many a minute."""
    tempo, kind, dots = beat_unit(tempo)
    drawings[f"{name}-note.svg"] = note_drawing(kind, dots)
    return {"note": f"{name}-note.svg", "speed": decimal(tempo.beats)}
