"""Which tune of a book a number or a title means; nothing is taken on a guess."""

import pytest

from backing.errors import TuneError
from backing.parse.abc import double_numbers, parse_abc, pick_tune, references, split_book
from backing.parse.abc.meant import has_in_title

BOOK = [
    ("0004", "The Fourth Lock"), ("12", "Candle, 4th Set"), ("0012", "Wet Rope"),
    ("735", "Galvin's Gate"), ("89", "Quick Step 4th Lantern"), ("735", "The Other Gate"),
    ("7a", "Café au Quai"), ("", "Adrift"), ("", "Adrift Again"), ("90", "Gate"),
    ("91", "Lantern\nT:The Night Watchman\nT:Garde de nuit"), ("45", "1812"),
]  # fmt: skip
TUNES = list(
    split_book("\n".join(f"X:{number}\nT:{title}\nL:1/8\nK:C\nC|\n" for number, title in BOOK))
)


def place_of(wanted):
    """Which tune of the book is meant, from 0."""
    return TUNES.index(pick_tune(TUNES, wanted))


@pytest.mark.parametrize(
    ("wanted", "place"),
    [
        ("4", 0), ("04", 0), ("0004", 0), (" 4 ", 0), ("4.1", 0), ("12.1", 1), ("0012.2", 2),
        ("735.1", 3), ("735.2", 5), ("89", 4), ("7a", 6), (".1", 7), (".2", 8), ("45", 11),
    ],
)  # fmt: skip
def test_a_number(wanted, place):
    """A number means the tune with that number, zeros before it or not; one that stands twice
    takes its place in the book after a stop."""
    assert place_of(wanted) == place


@pytest.mark.parametrize(
    ("wanted", "place"),
    [
        ("wet", 2), ("WET  ROPE", 2), ("cafe", 6), ("CAFÉ AU", 6), ("galvin’s", 3), ("gate", 9),
        ("night watch", 10), ("garde de nuit", 10), ("lantern", 10), ("4th set", 1), ("adrift", 7),
    ],
)  # fmt: skip
def test_a_title(wanted, place):
    """A text is looked for in all titles in any case, with accents or without; a whole title
    goes before part of one."""
    assert place_of(wanted) == place


@pytest.mark.parametrize(
    ("wanted", "said", "shown"),
    [
        ("12", "2 tunes have the number 12", ["12.1  Candle, 4th Set", "12.2  Wet Rope"]),
        ("735", "2 tunes have the number 735", ["735.1  Galvin's Gate", "735.2  The Other Gate"]),
        ("4th", "2 tunes have '4th' in their titles", ["12.1  Candle", "89    Quick Step"]),
        ("adri", "2 tunes have 'adri' in their titles", [".1  Adrift", ".2  Adrift Again"]),
    ],
)  # fmt: skip
def test_several_are_meant(wanted, said, shown):
    """Where several tunes are meant none is taken: they are shown with what to ask for each
    by, and the hint has one of these."""
    with pytest.raises(TuneError) as caught:
        pick_tune(TUNES, wanted)
    head, *lines = caught.value.message.split("\n")
    assert head == said
    for line, start in zip(lines, shown, strict=True):
        assert line.startswith(f"  {start}")
        assert "C major, line " in line
    asked = caught.value.hint.rpartition("--tune ")[2]
    assert pick_tune(TUNES, asked).title in lines[-1]


@pytest.mark.parametrize("wanted", ["5", "18", "1812", "4.2", "735.3", "0", "9" * 5000])
def test_a_number_that_is_not_there(wanted):
    """A number never means another tune, not even one with it in its title: those nearest
    are named."""
    with pytest.raises(TuneError, match="no tune") as caught:
        pick_tune(TUNES, wanted)
    assert "the book holds 12 tunes, 4 to 45" in caught.value.hint
    if wanted == "5":
        assert "the nearest are 4 The Fourth Lock, 12.1 Candle, 4th Set" in caught.value.hint
    if wanted == "735.3":
        assert "735.1 Galvin's Gate, 735.2 The Other Gate" in caught.value.hint


@pytest.mark.parametrize(
    ("wanted", "hint"),
    [("Wett Rope", "did you mean Wet Rope?"), ("The Nigth Watchman", "The Night Watchman?"),
     ("zzz", "the book holds 12 tunes")],
)  # fmt: skip
def test_a_title_that_is_not_there(wanted, hint):
    """A title that is not there is an error with the nearest one, else with what there is."""
    with pytest.raises(TuneError, match="no tune") as caught:
        pick_tune(TUNES, wanted)
    assert hint in caught.value.hint


def test_references_mean_one_tune_each():
    """What a book's tunes are listed by is what to ask for them by."""
    asked = references(TUNES)
    assert asked[:6] == ["4", "12.1", "12.2", "735.1", "89", "735.2"]
    assert asked[6:] == ["7a", ".1", ".2", "90", "91", "45"]
    assert [pick_tune(TUNES, each) for each in asked] == TUNES


def test_numbers_that_stand_twice():
    """Numbers that come twice are found, zeros or not (clause 3.1.1: one number, one tune)."""
    assert double_numbers(TUNES) == ["12", "735", ""]
    assert double_numbers(TUNES[2:5]) == []


def test_many_are_meant():
    """Of many that are meant the first ten are shown, and how many more there are."""
    book = "\n".join(f"X:{number}\nT:Lock {number}\nK:C\nC|\n" for number in range(1, 31))
    with pytest.raises(TuneError) as caught:
        parse_abc(book, "lock")
    assert len(caught.value.message.split("\n")) == 12
    assert "and 20 more" in caught.value.message


def test_titles_as_they_are_meant():
    """Accents that ABC spells in letters are found too (ABC 2.1 clause 8.2)."""
    (tune,) = split_book("X:1\nT:Caf\\'e\nK:C\nC|\n")
    assert tune.title == "Café"
    assert has_in_title(tune, "cafe")
    assert not has_in_title(tune, "caff")


def test_without_a_wish_the_first():
    """A text of several tunes gives the first where none is asked for."""
    assert parse_abc("X:2\nT:a\nK:C\nC|\n\nX:1\nT:b\nK:C\nC|\n", "  ").title == "a"
