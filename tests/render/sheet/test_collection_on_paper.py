"""Sheets of tunes of Ryan's Mammoth Collection (1,059 tunes that come with the music21
package), chosen by a seed."""

from collections.abc import Callable
from types import ModuleType

import pytest

from backing.errors import BackingError
from backing.files import read_tune
from backing.render.sheet.look import SheetLook
from backing.render.sheet.sheets import render_book

pytestmark = pytest.mark.slow


@pytest.mark.parametrize(("box", "count"), [("D/G", 200), ("G/C", 50)])
def test_every_tune_makes_a_page(bench: Callable[[str], ModuleType], page, look_at, box, count):
    """Each of the tunes makes a page for the box, and all of them one book with their titles."""
    common = bench("common")
    paths = common.sample_of(common.collection_paths(), count)
    if not paths:
        pytest.skip("the music21 package is not installed")
    titles: list[str] = []

    def pages():
        for path in paths:
            try:
                tune = common.with_chords(read_tune(path).tune)
            except BackingError as error:
                pytest.fail(f"{path.name}: {error}")
            titles.append(tune.title)
            yield [page(tune, box)]

    made = render_book("collection", pages(), SheetLook())
    sheet = look_at(made.files[0])
    assert len(titles) == count
    assert len(sheet.pages) >= count
    text = sheet.text
    assert all(" ".join(title.split())[:12] in text for title in titles)
