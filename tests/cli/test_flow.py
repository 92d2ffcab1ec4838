"""Words in the columns of a terminal."""

from unicodedata import combining, east_asian_width

from backing.cli.flow import columns_wide, fitting, flowed, in_order, wrapped


def test_a_text_is_cut_by_columns():
    """A text is cut by columns: a wide sign takes two (Unicode, annex 11), a combining one
    none."""
    assert fitting("bar 12", 6) == "bar 12"
    assert fitting("bar 12", 4) == "bar "
    assert fitting("a日本", 4) == "a日"
    assert fitting("e\u0301e\u0301e", 2) == "e\u0301e\u0301"
    assert fitting("bar", 0) == ""
    assert fitting("bar", -1) == ""
    assert columns_wide("a日e\u0301") == 4


def test_texts_are_broken_between_words():
    """A line ends between two words; a word that is longer than a line is cut."""
    assert wrapped(["to the sound card", "x"], 8) == ["to the", "sound", "card", "x"]
    assert wrapped(["a verylongword"], 5) == ["a", "veryl"]


def test_texts_stand_side_by_side_as_far_as_there_is_room():
    """In so many lines as many texts as fit, in their order; the others are kept."""
    assert flowed(["echo", "from bar 5", "x"], 9, 2) == (["echo   x"], ["from bar 5"])
    assert flowed(["echo", "then on", "x"], 9, 1) == (["echo   x"], ["then on"])
    assert in_order(["echo", "", "from bar 5", "x"], 9) == ["echo", "from bar", "5   x"]


def test_every_sign_has_the_columns_that_unicode_gives_it():
    """The quick way for usual signs and the plain one agree (Unicode, annex 11)."""
    for code in (*range(32, 0x2FF), *range(0x2000, 0x2600), *range(0x3000, 0x3100)):
        sign = chr(code)
        wide = 0 if combining(sign) else 2 if east_asian_width(sign) in "WF" else 1
        assert columns_wide(sign) == wide, hex(code)
        assert fitting(sign, 1) == (sign if wide < 2 else "")
