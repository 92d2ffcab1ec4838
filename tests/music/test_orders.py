"""Which bars are played when: orders of sections, endings of three and more, odd signs."""

import pytest

from backing.errors import TuneError
from backing.music import unfold as unfolding
from backing.music.unfold import unfold
from backing.parse.abc import parse_abc
from backing.parse.abc.fields import read_numbers, read_order


def played(music, header="", metre="4/4"):
    """The letters of the bars in the order in which they are played."""
    tune = parse_abc(f"X:1\nM:{metre}\nL:1/8\n{header}K:C\n{music}\n")
    names = [next(note for note in bar if note.pitches).pitches[0].step for bar in tune.melody.bars]
    return "".join(names[bar.index] for bar in unfold(tune))


#: ABC 2.1 clause 3.1.9: a number after a letter or a bracket repeats, dots are ignored.
ORDERS = [
    ("A", "A"), ("AABB", "AABB"), ("B3", "BBB"), ("(AC)2B", "ACACB"), ("A2.B3", "AABBB"),
    ("((AB)2.C)3", "ABABCABABCABABC"), ("(AB)2(AC)2A", "ABABACACA"), ("A.B.C", "ABC"),
    ("A B C", "ABC"), ("(A)", "A"), ("(A)2", "AA"), ("((A))2", "AA"), ("A12", "A" * 12),
    ("(A2B)2", "AABAAB"), ("", ""),
]  # fmt: skip


@pytest.mark.parametrize(("order", "sections"), ORDERS, ids=[row[0] for row in ORDERS])
def test_the_grammar_of_orders(order, sections):
    """An order of sections is written out as ABC 2.1 clause 3.1.9 says."""
    assert "".join(read_order(order)) == sections


@pytest.mark.parametrize(
    ("order", "said"),
    [
        ("(AB", "opened and not closed"),
        ("AB)", "closed that was not opened"),
        ("March", "is not an order"),
        ("A-B", "is not an order"),
        ("A1001", "more than 1000"),
        ("((((A10)10)10)10)10", "more than 1000"),
    ],
)
def test_what_is_no_order(order, said):
    """Unmatched brackets, other signs and endless orders are refused."""
    with pytest.raises(ValueError, match=said):
        read_order(order)


BODY = "P:A\nA8|\nP:B\nB8|\nP:C\nC8|"


@pytest.mark.parametrize(("order", "sections"), ORDERS[:-1], ids=[row[0] for row in ORDERS[:-1]])
def test_orders_are_played(order, sections):
    """The sections are played in the header's order (ABC 2.1 clauses 3.1.9, 6.2)."""
    assert played(BODY, f"P:{order}\n") == sections


def test_an_order_names_a_section_that_is_not_there():
    """A section that the tune does not have is left out, and that is said."""
    tune = parse_abc(f"X:1\nM:4/4\nL:1/8\nP:AD\nK:C\n{BODY}\n")
    assert [bar.index for bar in unfold(tune)] == [0]
    (notice,) = tune.notices
    assert "names D, which the tune does not have" in notice.message


def test_without_an_order_sections_follow_as_written():
    """Labels alone change nothing about the order."""
    assert played(BODY) == "ABC"


@pytest.mark.parametrize(
    ("order", "body", "expected"),
    [
        ("AB", "P:A\n|:A8:|\nP:B\nB8|", "AAB"),
        ("ABA", "P:A\n|:A8:|\nP:B\nB8|", "AABAA"),
        ("AA", "P:A\n|:A8|[1B8:|[2C8|]", "ABACABAC"),
        ("A3", "P:A\n|:A8|[1B8:|[2C8:|[3D8|]", "ABACAD"),
        ("A4", "P:A\n|:A8|[1,3B8:|[2C8:|[4D8|]", "ABACABAD"),
        ("A4B", "P:A\n|:A8|[1-3B8:|[4C8|]\nP:B\nD8|", "ABABABACD"),
    ],
)
def test_repeats_inside_an_order(order, body, expected):
    """A section plays with its own repeats each time it is named, but `A4` with endings to
    4 is four times in all (ABC 2.1 clause 4.10; the combination is this project's choice)."""
    assert played(body, f"P:{order}\n") == expected


@pytest.mark.parametrize(
    ("music", "expected"),
    [
        # clause 4.8: any number of colons; the play count is one more
        ("|::A8::|", "AAA"), ("|:::A8:::|", "AAAA"), ("A8::|", "AAA"), ("|::A8:|", "AAA"),
        # clause 4.8: a repeat end goes back to the latest sign, double bar or repeat end
        ("A8|B8||C8:|", "ABCC"), ("A8|]B8:|", "ABB"), ("A8[|B8:|", "ABB"),
        ("A8:|B8:|C8:|", "AABBCC"), ("|:A8:|B8||C8:|", "AABCC"), ("A8|:B8|C8:|", "ABCBC"),
        # clause 4.8: signs may be split or run together
        ("|:A8:| |:B8:|", "AABB"), ("|:A8:||:B8:|", "AABB"), ("|:A8:|]|:B8:|", "AABB"),
        ("|:A8 :: B8:|", "AABB"), ("[|:A8:|]", "AA"), ("||:A8:||", "AA"), ("|A8|", "A"),
        ("[|]A8[|]", "A"), ("A8|:|B8|", "AAB"),
        # clauses 4.9, 4.10: next to the bar line or in brackets, lists and ranges
        ("|:A8|1B8:|2C8|]", "ABAC"), ("|:A8|[1B8:|[2C8|]", "ABAC"), ("|:A8[1B8:|[2C8|]", "ABAC"),
        ("|:A8|[1,2B8:|[3C8|]", "ABABAC"), ("|:A8|1-3B8:|4C8|]", "ABABABAC"),
        ("|:A8|[1,3,5-7B8:|[2,4,8C8|]", "ABACABACABABABAC"),
        ("|:A8|[1B8:|[2C8:|[3D8|]", "ABACAD"), ("|:A8|[1B8:|[2C8|]D8|E8:|", "ABACDEDE"),
        ("A8|[1B8:|[2C8||D8|[1E8:|[2F8|]", "ABACDEDF"), ("|:A8|[1B8|C8:|[2D8|E8|]", "ABCADE"),
        # a bar that no ending names is passed over at that time
        ("|:A8|[1B8:|[3C8|]", "ABAAC"),
    ],
)  # fmt: skip
def test_signs(music, expected):
    """Repeat signs and endings are played as ABC 2.1 clauses 4.8 to 4.10 say."""
    assert played(music) == expected


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("1", (1,)),
        ("1,3", (1, 3)),
        ("1-3", (1, 2, 3)),
        ("1,3,5-7", (1, 3, 5, 6, 7)),
        ("2,1", (1, 2)),
    ],
)
def test_numbers_of_endings(text, numbers):
    """Endings are a number, a list or a range (ABC 2.1 clause 4.10)."""
    assert read_numbers(text) == numbers


@pytest.mark.parametrize("text", ["0", "101", "1-999", "3-1"])
def test_numbers_that_no_ending_has(text):
    """Endings count from 1 to 100, and a range goes up."""
    with pytest.raises(ValueError, match="ending"):
        read_numbers(text)


def test_endings_in_other_metres():
    """An ending may change the metre, and goes on to its bar line (ABC 2.1 clause 13.1)."""
    music = "A9|B9:|\nC9|[1D9:|\nM:12/8\n[2E12|\nM:9/8\nF9|]"
    assert played(music, metre="9/8") == "ABABCDCEF"


@pytest.mark.slow
@pytest.mark.parametrize("times", [40, 100])
def test_endless_repeats_are_refused(times):
    """More than 20,000 bars are refused, not counted out."""
    colons = ":" * (times - 1)
    tune = parse_abc(f"X:1\nM:4/4\nL:1/8\nK:C\n|{colons}{'A8|' * 600}{colons}|\n")
    with pytest.raises(TuneError, match="more than 20,000 bars") as caught:
        unfold(tune)
    assert "repeat signs" in caught.value.hint


def test_a_tune_lasts_so_long_at_most(monkeypatch):
    """What counts is how long the bars last that are played: one long bar among short ones
    is none too many."""
    monkeypatch.setattr(unfolding, "MOST_WHOLES", 9)
    whole = "X:1\nM:none\nL:1/1\nK:G\n"
    assert len(unfold(parse_abc(f"{whole}G|G6|G|G|"))) == 4  # 9 semibreves, the longest bar 6
    with pytest.raises(TuneError, match="lasts longer than 9 semibreves"):
        unfold(parse_abc(f"{whole}G|G6|G|G2|"))
