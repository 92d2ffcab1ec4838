"""What keys hold, and how the faults of a file are laid out."""

import pytest

from backing.data.file_kind import FileKind
from backing.data.reader import DataReader
from backing.errors import DataError


class Shelf(DataReader):
    """A file of jars on shelves."""

    kind = FileKind("shelf", DataError, "see ours", {"jar": "jar"})


def faults(text, look):
    """The faults that a look at a file finds."""
    reader = Shelf(text, "mine.toml")
    look(reader, reader.data)
    with pytest.raises(DataError) as caught:
        reader.check()
    return caught.value


def test_a_file_without_faults_passes():
    """Where nothing was found, nothing is raised."""
    reader = Shelf('a = "x"', "mine.toml")
    assert reader.text(reader.data, "a") == "x"
    reader.check()


def test_faults_come_in_the_order_of_their_lines():
    """Faults are sorted by line, those without one last, and each is told once."""

    def look(reader, data):
        reader.fault(("nowhere",), "missing")
        reader.fault(("c",), "odd")
        reader.fault(("a",), "odd")
        reader.fault(("c",), "odd")

    found = faults("a = 1\nb = 2\nc = 3", look)
    assert found.text() == (
        "error: mine.toml: 3 faults in the shelf\n"
        "  line 1, a: odd\n  line 3, c: odd\n  nowhere: missing\nhint: see ours"
    )


def test_what_is_missing_has_the_line_of_its_table():
    """A key that is missing from a table is told with the line where the table begins."""

    def look(reader, data):
        for path, jar in reader.tables(data, "jar", (), "tables"):
            reader.text(jar, "label", path)

    found = faults('[[jar]]\nlabel = "x"\n\n[[jar]]\nsize = 3\n', look)
    assert found.faults == ("line 4, second jar, label: missing",)


def test_the_place_of_an_item_counts_all_of_them():
    """In a list where other things stand between, the third is still the third."""

    def look(reader, data):
        for path, jar in reader.tables(data, "jar", (), "tables"):
            reader.flag(jar, "full", path)

    found = faults("jar = [\n  {},\n  7,\n  { full = 1 },\n]", look)
    assert found.faults == (
        "line 3, second jar: expected tables, got 7",
        "line 4, third jar, full: expected true or false, got 1",
    )


def test_a_flood_of_faults_is_cut():
    """Of more than forty faults the first forty are told, and how many more there are."""
    text = "\n".join(f"k{number} = 1" for number in range(100))
    found = faults(text, lambda reader, data: reader.known(data, (), ("jar",)))
    assert found.message == "100 faults in the shelf"
    assert len(found.faults) == 41
    assert found.faults[0] == "line 1, k0: unknown key; known here are jar"
    assert found.faults[-1] == "and 60 more"


def test_many_known_keys_are_not_listed():
    """Where a dozen keys are known they are listed; where more are, only a near one is named."""
    keys = tuple(f"cost-{letter}" for letter in "abcdefghijklm")
    found = faults("q = 1\ncots-a = 1", lambda reader, data: reader.known(data, (), keys))
    assert found.faults[0] == "line 1, q: unknown key"
    assert found.faults[1].startswith("line 2, cots-a: unknown key; did you mean cost-")


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("0x" + "f" * 4000, "a number of thousands of digits"),
        ("9" * 4000, "9" * 37 + "..."),
        ("nan", "nan"),
        ("1e400", "1e400"),
        ("1979-05-27", "1979-05-27"),
        ("[1, [2, { a = 3 }]]", "[1, [2, a table]]"),
        ("0.25", "0.25"),
        ('"' + "x" * 4000 + '"', "'" + "x" * 36 + "..."),
    ],
    ids=lambda text: text[:20],
)
def test_any_value_is_shown_short(value, said):
    """Whatever stands where a word is expected is shown as the file has it, cut where long."""

    def look(reader, data):
        reader.word(data["a"], ("a",), ("yes", "no"))

    assert faults(f"a = {value}", look).faults == (
        f"line 1, a: unknown: {said}; expected yes or no",
    )
