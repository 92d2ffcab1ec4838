"""A tune written as ABC and read again is the same tune."""

import importlib.util
import random
from pathlib import Path

import pytest

from backing.errors import BackingError
from backing.parse.abc import parse_abc, read_tune, split_book
from backing.render.abc import render_abc

EXAMPLES = sorted((Path(__file__).parent.parent.parent / "examples").glob("*.abc"))
HEAD = "X:1\nT:Round\nM:4/4\nL:1/8\n"
#: Small tunes of ours, each with one thing that is hard to write (clauses of ABC 2.1).
PIECES = {
    "accidentals (4.2)": "K:D\n^^F __B =c ^c|c f|",
    "accidental held by a tie (4.11)": "K:C\n^F8-|F4 F4|",
    "partial ties in chords (4.17)": "K:C\n[C-E]4 [CE-G]4|[EA]8|",
    "tuplets (4.13)": "K:C\n(3abc (3:2:4A2B2de (5:4:5abcde|",
    "a tuplet over a bar line": "K:C\nA6 (3ab|cA6|",
    "graces (4.12)": "K:C\n{gef}c2 {/a}d2 {[ce]^f}g4|",
    "repeats and endings (4.8, 4.9)": "K:C\n|:A8|1,3B8:|2,4c8|]",
    "counts (4.8)": "K:C\n|::A8::|::B8::|",
    "pickups and split bars": "K:C\nA|B8|A7:|B|c8|d7|]",
    "keys, metres, tempi inside (3.2)": "K:C\nA8|[M:3/4][K:Ador]f6|[Q:1/4=90]c4 [Q:1/4=60]d2|",
    "modes (3.1.14)": "K:D Phr ^f\nf c _e|\n",
    "explicit keys": "K:E exp ^g\ngf|",
    "labels and an order (3.1.9)": "P:AAB\nK:C\nP:A\nA8|\nP:B\nB8|",
    "slurs, decorations, texts": 'K:C\n(A!trill!B .c) "^slow"d "4"e Hf2|',
    "chord symbols": 'K:C\n"Em7"A4 "D/F#"B4|"N.C."c8|',
    "lyrics (5.1)": "K:C\nA2 B2 c2 d2|\nw:ca-nal boat_\nw:* two~words hey\\-ho",
    "second voices (7.4)": "K:C\nc4 d4 & A8|^g8|",
    "voices (7)": 'V:1\nV:2\nK:C\nV:1\n"C"c8|d8|\nV:2\nC4 E4|F8|',
    "jumps (4.14)": "K:C\n!segno!A8|!coda!B8|c8!D.S.!|!coda!d8|]",
    "free metre": "M:none\nK:none\nA B2 c3|z x2|",
    "texts with signs (8.2)": "N:50 \\% \\& \\\\ \\u0022 Caf\\'e\nK:C\nA8|",
    "rests of bars (4.5)": "K:C\nZ2|X|A8|",
    "odd tempi (3.1.8)": 'Q:"Slow" 3/8=50.5\nK:C\nA8|',
    "swing (11.5)": "%%backing:swing 2:1\nK:C\nABcd|",
}


@pytest.mark.parametrize("text", PIECES.values(), ids=PIECES.keys())
def test_there_and_back(text):
    """What is written reads back as the same tune, note by note, sign by sign."""
    tune = parse_abc(HEAD + text + "\n")
    again = parse_abc(render_abc(tune))
    assert again == tune
    assert again.notices == tune.notices or len(again.notices) <= len(tune.notices)


def test_a_tune_takes_its_file_header_along():
    """A tune that is written alone keeps what its file's header said (ABC 2.1 clause 2.2.2)."""
    book = "%abc-2.1\nM:3/4\nL:1/4\nC:the file\nO:the weir\n\nX:1\nT:One\nK:G\nG3|\n"
    tune = parse_abc(book)
    written = render_abc(tune).splitlines()
    assert {"M:3/4", "L:1/4", "C:the file", "O:the weir"} <= set(written[: written.index("K:G")])
    assert parse_abc(render_abc(tune)) == tune


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_examples_there_and_back(path):
    """Every example reads back as the same tune; what is written is stable."""
    for text in split_book(path.read_text(encoding="utf-8")):
        tune = read_tune(text)
        written = render_abc(tune)
        assert parse_abc(written) == tune
        assert render_abc(parse_abc(written)) == written


@pytest.mark.slow
def test_collections_there_and_back():
    """A seeded sample of 300 tunes of the collections that the music21 package carries
    (ryansMammoth, airdsAirs, oneills1850, miscFolk, essenFolksong) reads back the same."""
    corpus = Path(importlib.util.find_spec("music21").submodule_search_locations[0], "corpus")
    names = ("ryansMammoth", "airdsAirs", "oneills1850", "miscFolk", "essenFolksong")
    texts = [
        text
        for name in names
        for path in sorted((corpus / name).glob("*.abc"))[:60]
        for text in split_book(path.read_text(encoding="utf-8", errors="replace"))
    ]
    for text in random.Random(7).sample(texts, 300):
        try:
            tune = read_tune(text)
        except BackingError:
            continue
        assert parse_abc(render_abc(tune)) == tune, text.title
