"""Our reading of whole collections beside music21's, note by note.

The collections (ryansMammoth, airdsAirs, oneills1850, miscFolk, essenFolksong) come with
the music21 package.  Where the two disagree, tests/data/disagreements.toml says why.
"""

import random
import tomllib
from pathlib import Path

import pytest

LISTED = tomllib.loads(
    (Path(__file__).parent.parent / "data" / "disagreements.toml").read_text(encoding="utf-8")
)


@pytest.fixture(scope="module")
def readers(bench):
    """The benchmark's functions."""
    return bench("readers")


def test_every_disagreement_has_a_verdict(readers):
    """Every class in the list is one that a clause of ABC 2.1 settles."""
    for tunes in LISTED.values():
        for verdict in tunes.values():
            assert set(verdict.split(" + ")) <= set(readers.VERDICTS), verdict


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(LISTED))
def test_a_sample_is_read_alike_or_as_listed(readers, name):
    """Of a seeded sample each tune is read as music21 reads it, or differs as listed."""
    read, refused = readers.read_all(name)
    assert len(refused) <= len(read) / 500
    chosen = random.Random(5).sample(readers.sample_of(read, 60), 8)
    for text, tune in chosen:
        key = readers.key_of(text)
        assert readers.verdict_on(text, tune) == LISTED[name].get(key, "the same"), key
