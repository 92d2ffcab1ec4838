"""Practice files of real tunes, on a sample of an open collection.

The tunes are those of Ryan's Mammoth Collection, 1,059 tunes in ABC that come with the
music21 package; the whole of it is swept by `tests/bench/collection.py`.
"""

import importlib.util
from collections.abc import Iterable
from pathlib import Path
from random import Random
from types import ModuleType
from typing import Any

import pytest

from backing.files import load_style, read_tune
from backing.music.tune import Tune
from backing.parse.abc import split_book

#: Of each tune: its name, what was made of it, and that as mido reads it.
Files = list[tuple[str, Any, Any]]


def _load(name: str) -> ModuleType:
    """A module of the benchmarks, which are scripts and no package."""
    path = Path(__file__).parent / "bench" / f"{name}.py"
    spec = importlib.util.spec_from_file_location(f"bench_{name}", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


common = _load("common")
PATHS = common.collection_paths()
SAMPLE = common.sample_of(PATHS, 60)
pytestmark = pytest.mark.skipif(not PATHS, reason="the music21 package is not installed")


@pytest.fixture(scope="module")
def tunes() -> dict[str, Tune]:
    """The sample's tunes by name, with chords invented by rule."""
    return {path.stem: common.with_chords(read_tune(path).tune) for path in SAMPLE}


@pytest.fixture(scope="module", params=common.STYLES)
def files(request: pytest.FixtureRequest, tunes: dict[str, Tune]) -> Files:
    """What is made of each tune with one style, and the same as mido reads it."""
    style = load_style(request.param)
    made = {name: common.make_file(tune, style) for name, tune in tunes.items()}
    return [(name, one, common.read_midi(one.data)) for name, one in made.items()]


def _all(faults: Iterable[tuple[str, list[str]]]) -> list[str]:
    """All faults, each with its tune's name before it."""
    return [f"{name}: {fault}" for name, found in faults for fault in found]


def test_the_collection_is_whole() -> None:
    """Ryan's Mammoth Collection, as the music21 package carries it, has 1,059 tunes."""
    assert len(PATHS) == common.TUNES


@pytest.mark.slow
def test_a_book_of_all_tunes_splits_into_all_tunes() -> None:
    """All files of Ryan's Mammoth Collection (in the music21 package) in one book are as
    many tunes as files, with the titles that they have alone."""
    texts = [path.read_text(encoding="utf-8") for path in PATHS]
    alone = [next(split_book(text)).title for text in texts]
    assert [tune.title for tune in split_book("\n\n".join(texts))] == alone


@pytest.mark.slow
def test_chord_symbols_read_back() -> None:
    """Chord symbols written into tunes of Ryan's Mammoth Collection (in the music21
    package) read as the same chords at the same places, and change nothing else."""
    for path in SAMPLE:
        common.chorded_text(path.read_text(encoding="utf-8"))


@pytest.mark.slow
def test_every_note_on_has_its_note_off(files: Files) -> None:
    """In files of Ryan's Mammoth Collection (in the music21 package) every note-on has its
    own note-off, by channel and key, and nothing sounds on at the end."""
    assert not _all((name, common.pairing_faults(sounded)) for name, _, sounded in files)


@pytest.mark.slow
def test_tracks_are_named_ordered_and_as_long_as_the_practice(files: Files) -> None:
    """In files of Ryan's Mammoth Collection (in the music21 package) every track has a name,
    no message comes before its time, and all tracks end where the practice does."""
    assert not _all((name, common.form_faults(made, sounded)) for name, made, sounded in files)


@pytest.mark.slow
def test_the_melody_is_the_tune(files: Files) -> None:
    """In files of Ryan's Mammoth Collection (in the music21 package) the melody strikes the
    tune's notes in the order of its repeats, ties joined."""
    assert not _all((name, common.melody_faults(made, sounded)) for name, made, sounded in files)


@pytest.mark.slow
def test_loops_counts_and_mutes_hold_too(tunes: dict[str, Tune]) -> None:
    """Loops, sections, count-ins, mutes and single tracks of tunes of Ryan's Mammoth
    Collection (in the music21 package) pass the same checks as whole tunes."""
    chance = Random(common.SEED)
    faults = []
    for turn, (name, tune) in enumerate(tunes.items()):
        style = load_style(common.STYLES[turn % len(common.STYLES)])
        asked = list(common.steps_for(tune, chance))
        for place, (options, step) in enumerate(chance.sample(asked, min(5, len(asked)))):
            made = common.make_file(tune, style, step, single_track=place % 2 == 1)
            faults.append((f"{name} {options}", common.faults_in(made)))
    assert not _all(faults)
