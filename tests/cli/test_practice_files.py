"""Practice files: what they can say, that every fault is told at once, and where it stands."""

from pathlib import Path

import pytest

from backing.cli.practice_file import _FOR_ALL, _HEAD, _NOT_HERE, _STEP
from backing.cli.practice_making import read_practice
from backing.cli.wish import Wish
from backing.errors import DataError, FileError
from backing.practice.plan import Plan
from backing.practice.practice import performance_of_practice
from backing.render.midi import render_midi

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
JIG, WALTZ = "the-lock-keepers-kettle.abc", "the-lamplighters-round.abc"
HEAD = f'practice = "Try"\ntune = "{JIG}"\n'


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A folder of its own with two tunes, the current one."""
    for name in (JIG, WALTZ):
        (tmp_path / name).write_bytes((EXAMPLES / name).read_bytes())
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def faults(folder):
    """The faults of a practice file with this text."""

    def found(text):
        path = folder / "p.toml"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        with pytest.raises(DataError) as caught:
            read_practice(path)
        return list(caught.value.faults) or [caught.value.message]

    return found


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", 'practice: is the first key of a practice file: practice = "its name"'),
        ("[[step]]\n", 'practice: is the first key of a practice file: practice = "its name"'),
        (f'tune = "{JIG}"\npractice = "Late"\n[[step]]\n',
         'line 2, practice: is the first key of a practice file: practice = "its name"'),
        ('practice = 3\n[[step]]\nrest = 2\n',
         'line 1, practice: expected a text in "quotes", got 3'),
        ('practice = "Try"\n[[step]]\n', "line 2, first step, tune: missing"),
        (HEAD, "step: missing; expected tables [[step]]"),
        (HEAD + "step = 4\n", "line 3, step: expected tables [[step]], got 4"),
        (HEAD + "colour = 1\n[[step]]\n", "line 3, colour: unknown key"),
        (HEAD + "[[step]]\npercnt = 60\n",
         "line 4, first step, percnt: unknown key; did you mean percent?"),
        (HEAD + "[[step]]\na4 = 442\n",
         "line 4, first step, a4: is for the whole practice; write it above the first [[step]]"),
        (HEAD + 'a4 = 900\n[[step]]\n',
         "line 3, a4: A cannot be at 900 Hz; give a tuning from 400 to 480 Hz; most are near 440"),
        (HEAD + '[[step]]\npart = "C"\n',
         "line 3, first step: there is no section 'C'; it has A, B"),
        (HEAD + '[[step]]\nbars = "15-99"\n',
         "line 3, first step: there are no bars 15-99 here; the tune has bars 0 to 16"),
        (HEAD + '[[step]]\njoin = "A-C"\n',
         "line 3, first step: there is no section 'C'; it has A, B"),
        (HEAD + '[[step]]\npercent = "50..50"\n',
         "line 4, first step, percent: a ladder goes from one tempo to another; give two, like "
         "50..100"),
        (HEAD + '[[step]]\npercent = "50.."\n',
         "line 4, first step, percent: percent '' is not a number of per cent; try percent 60"),
        (HEAD + '[[step]]\npercent = "50..100"\nstep = 0\n',
         "line 5, first step, step: step '0' is no step in per cent; try step 5"),
        (HEAD + '[[step]]\npercent = "1..900"\nstep = 1\n',
         "line 3, first step: a ladder of 900 steps; up to 200 are possible"),
        (HEAD + "[[step]]\nstep = 5\n",
         "line 3, first step: step, beyond and down are for a ladder of tempi; say percent 50..100 "
         "too"),
        (HEAD + "[[step]]\npercent = 2\n",
         "line 3, first step: the tempo would be 3/8 = 2.2; give 10 to 400 beats a minute"),
        (HEAD + '[[step]]\npercent = 60\ntempo = 50\n',
         "line 3, first step: tempo and percent both say how fast; give one of them, not both"),
        (HEAD + '[[step]]\nbars = 5\npart = "A"\n',
         "line 3, first step: bars and part both say what is played; give one of them, not both"),
        (HEAD + '[[step]]\nless-help = true\ntimes = 2\n',
         "line 3, first step: what changes from round to round takes 4 rounds, not 2; give 4 times "
         "or more, or leave it out"),
        (HEAD + '[[step]]\ngrow = "bar"\n',
         "line 3, first step: the loop grows from a few bars; say which: bars 6, or 5-6"),
        (HEAD + '[[step]]\ngrow = "sideways"\n',
         "line 4, first step, grow: unknown: 'sideways'; expected bar, phrase or backwards"),
        (HEAD + "[[step]]\nedges = true\n",
         "line 3, first step: what leads in, and the first note after, are played of a few bars; "
         "say which: bars 5-6"),
        (HEAD + '[[step]]\necho = "yes"\n',
         "line 4, first step, echo: expected true or false, got 'yes'"),
        (HEAD + "[[step]]\ntimes = 2.5\n",
         "line 4, first step, times: times '2.5' is not a whole number; give a number: 4, or 7x32"),
        (HEAD + "[[step]]\ntimes = [3]\n",
         'line 4, first step, times: expected a text in "quotes" or a number, got [3]'),
        (HEAD + "[[step]]\ntimes = 0\n", "line 3, first step: 0 times; give 1 to 1000"),
        (HEAD + "[[step]]\ngap = 65\n",
         "line 3, first step: a gap of 65 bars; give 0 to 64 bars"),
        (HEAD + "[[step]]\nmute = 5\n",
         "line 4, first step, mute: mute '5' is not a track; give melody, bass, chords, click"),
        (HEAD + '[[step]]\nmute = ["melody", "fidle"]\n',
         "line 4, first step, mute: mute 'fidle' is not a track; give melody, bass, chords, click"),
        (HEAD + '[[step]]\nbox = "Q/R"\n', "line 4, first step, box: there is no box 'Q/R'"),
        (HEAD + '[[step]]\nstyle = "../mine.toml"\n',
         "line 4, first step, style: a file of yours lies beside this one, or in a folder there"),
        (HEAD + '[[step]]\nkey = "H"\n',
         "line 4, first step, key: key 'H' is not a key; give a key like D, Em or Ador"),
        (HEAD + '[[step]]\ntune = "nowhere.abc"\n',
         "line 4, first step, tune: there is no file "),
        (HEAD + '[[step]]\nnumber = 7\n',
         "line 4, first step, number: no tune '7' in the book"),
        *((HEAD + f"[[step]]\ntune = '{outside}'\n",
           "line 4, first step, tune: a tune lies beside this file, or in a folder there")
          for outside in ("../x.abc", "/etc/x.abc", "a/../../x.abc", "C:\\x.abc", "..\\x.abc",
                          "~/x.abc", "-")),
        (HEAD + '[[step]]\ntune = "\\u0000.abc"\n',
         "line 4, first step, tune: a tune lies beside this file, or in a folder there"),
        (HEAD + '[[step]]\nbox = "\\u0000.toml"\n',
         "line 4, first step, box: a file of yours lies beside this one, or in a folder there"),
        (HEAD + '[[step]]\ntune = "p.toml"\n',
         "line 4, first step, tune: a practice file is no tune; name an ABC, MusicXML or MIDI "
         "file"),
        (HEAD + "[[step]]\nrest = 61\n[[step]]\n",
         "line 4, first step, rest: expected 1 to 60 minutes, got 61"),
        (HEAD + "[[step]]\nrest = 5\nbars = 5\n[[step]]\n",
         "line 5, first step, bars: a rest has nothing but what it is for"),
        (HEAD + "[[step]]\nrest = 5\n",
         "line 3, step: all steps are rests; add one that is played"),
        (HEAD + "[[step]]\nfollows = true\n",
         "line 4, first step, follows: the first step has none before it"),
        (HEAD + "[[step]]\n[[step]]\nrest = 2\n[[step]]\nchange = true\n",
         "line 7, third step, change: a rest is before it; what follows a rest is counted in"),
        (HEAD + "[[step]]\n[[step]]\nchange = true\nbars = 5\n",
         "line 4, second step: a change has bars of its own; leave bars, part, ending, join out"),
        (HEAD + "[[step]]\n[[step]]\nchange = true\ngrow = 'backwards'\n",
         "line 4, second step: a change does not grow; leave out that it grows"),
        (HEAD + '[[step]]\nonce-to-yourself = true\nbars = 5\n',
         "line 3, first step: once-to-yourself is for the whole tune; leave bars and part out"),
        (HEAD + "[[step]]\ntimes = 1000\n",
         "line 3, first step: 35,000 bars to play in all; up to 20,000 are possible: fewer times"),
        (HEAD + "[[step]]\ntimes = 400\n" * 2,
         "line 3, step: 28,000 bars to play in all; up to 20,000 are possible: fewer times"),
        (HEAD + "[[step]]\n" * 201, "line 3, step: 201 steps; up to 200 are possible"),
        (HEAD + "[[step]\n", "line 3"),
        (b"practice = \"\xff\"\n", "is not UTF-8"),
        (b"\x00\x01\x02", "not UTF-8"),
        (HEAD + f'[[step]]\nfor = "{"x" * 3_000_000}"\n', "larger than 200 kB"),
    ],
    ids=lambda value: None if isinstance(value, bytes) else str(value)[-50:],
)  # fmt: skip
def test_each_fault_has_its_place(faults, text, said):
    """What is wrong is told with its line and the step that it is in."""
    found = faults(text)
    assert len([fault for fault in found if said in fault]) == 1, found


def test_all_faults_at_once(faults):
    """Faults of the file and of its tunes are told together; a fault above all steps is told
    once."""
    found = faults(
        f'practice = "Bad"\ntune = "{JIG}"\npercent = "x"\n[[step]]\npart = "C"\n[[step]]\n'
        'bars = 99\necho = 1\n[[step]]\ntune = "nowhere.abc"\n[[step]]\nbox = "Z"\n[[step]]\n'
        'style = "nothing"\nkey = "H"\n'
    )
    assert [fault.partition(":")[0] for fault in found] == [
        "line 3, percent",
        "line 4, first step",
        "line 6, second step",
        "line 8, second step, echo",
        "line 10, third step, tune",
        "line 12, fourth step, box",
        "line 14, fifth step, style",
        "line 15, fifth step, key",
    ]


def test_a_file_that_is_not_there(folder):
    """A practice file that is missing is said to be."""
    with pytest.raises(FileError, match="there is no file"):
        read_practice(Path("nowhere.toml"))


def test_a_tune_that_is_gone(cli, folder):
    """A tune that was moved away since is a fault of the file, in the terminal too."""
    Path("p.toml").write_text(HEAD + "[[step]]\n")
    Path(JIG).unlink()
    for command in (["make", "p.toml", "-o", "p.mid"], ["play", "p.toml"]):
        result = cli(*command)
        assert result.code == 1
        assert (
            "p.toml: 1 fault in the practice file\n  line 2, tune: there is no file" in result.err
        )


#: For each option of the command line: what is typed, and what a practice file has.
SAID = {
    "bars": ("5-6", '"5-6"'), "part": ("B", '"B"'), "join": ("A-B", '"A-B"'),
    "ending": ("1", "1"), "key": ("G", '"G"'), "mute": ("melody", '"melody"'),
    "dance": ("reel", '"reel"'), "percent": ("50..70", '"50..70"'), "tempo": ("70", "70"),
    "times": ("8", "8"), "lead_in": ("held", '"held"'), "close": ("tag", '"tag"'),
    "count_in": ("1", "1"), "click": ("off-beats", '"off-beats"'), "step": ("10", "10"),
    "beyond": ("5", "5"), "gap": ("1", "1"), "grow": ("backwards", '"backwards"'),
    "ears": ("left", '"left"'), "every": ("2", "2"), "swing": ("3:2", '"3:2"'),
    "style": ("polka", '"polka"'), "chords": ("suggest", '"suggest"'), "box": ("D/G", '"D/G"'),
    "profile": ("cross-row", '"cross-row"'), "balance": ("click=50", '"click=50"'),
    "a4": ("442", "442"), "tremolo": ("8", "8"), "voice": ("melody", '"melody"'),
    "number": ("1", "1"),
    "metre": ("6/8", '"6/8"'), "beat": ("60", "60"),
}  # fmt: skip
#: What some options need beside them.
WITH = {
    "ending": {"part": ("A", '"A"')}, "edges": {"bars": ("5-6", '"5-6"')},
    "step": {"percent": ("50..70", '"50..70"')}, "beyond": {"percent": ("50..70", '"50..70"')},
    "down": {"percent": ("50..70", '"50..70"')}, "profile": {"box": ("D/G", '"D/G"')},
    "every": {"less_help": (None, "true")},
}  # fmt: skip
TUNES = {"ending": WALTZ}
#: What is told of a MIDI file that was played.
PLAYED = {"metre", "beat"}


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted({*Wish._fields} - {"then", "changes"} - PLAYED))
def test_what_can_be_typed_can_be_written(cli, folder, name):
    """Every option of the command line is a key of a practice file, and the file that is made is
    the same, but for its title."""
    asked = {name: SAID.get(name, (None, "true")), **WITH.get(name, {})}
    tune = TUNES.get(name, JIG)
    option = {"number": "tune"}
    typed = [
        word
        for key, (value, _) in asked.items()
        for word in (f"--{option.get(key, key).replace('_', '-')}", value)
        if word is not None
    ]
    keys = {key.replace("_", "-"): value for key, (_, value) in asked.items()}
    above = [f"{key} = {value}\n" for key, value in keys.items() if key in _FOR_ALL]
    below = [f"{key} = {value}\n" for key, value in keys.items() if key not in _FOR_ALL]
    Path("p.toml").write_text(
        f'practice = "x"\ntune = "{tune}"\n{"".join(above)}[[step]]\n{"".join(below)}'
    )
    for words, out in (([tune, *typed], "a.mid"), (["p.toml"], "b.mid")):
        result = cli("make", *words, "-o", out)
        assert result.code == 0, result.err
    one, other = (untitled(Path(out).read_bytes()) for out in ("a.mid", "b.mid"))
    assert one == other


def untitled(data):
    """The messages of a MIDI file but for what it is called."""
    from io import BytesIO

    import mido

    texts = ("track_name", "text", "sequencer_specific", "copyright")
    return [
        [message for message in track if message.type not in texts]
        for track in mido.MidiFile(file=BytesIO(data), charset="utf-8").tracks
    ]


def test_every_option_is_a_key():
    """No option of the command line is missing among the keys, but for sets, which are steps."""
    keys = {name.replace("_", "-") for name in Wish._fields} - set(_NOT_HERE) | {"number"}
    assert keys <= set(_HEAD)
    assert keys - set(_FOR_ALL) <= set(_STEP)


TWO = f"""practice = "Two of each"
tune = "{JIG}"
a4 = 442
box = "D/G"
style = "light"

[[step]]
for = "The jig as it is"

[[step]]
for = "The same on the other box, a fourth up"
box = "G/C"
key = "G"
percent = 80

[[step]]
rest = 2
for = "Let the arms hang"

[[step]]
for = "A waltz"
tune = "{WALTZ}"
box = "G/C"
style = "waltz"
part = "B"
"""


def test_two_tunes_boxes_and_keys(folder):
    """A file may have tunes, boxes, keys and styles of its steps; each way is made once."""
    path = folder / "p.toml"
    path.write_text(TWO)
    read = read_practice(path)
    practice = read.practice
    assert practice.title == "Two of each"
    assert [backing.tune.title for backing in practice.backings] == [
        "The Lock-Keeper's Kettle", "The Lock-Keeper's Kettle", "The Lamplighter's Round",
    ]  # fmt: skip
    assert [str(backing.tune.key) for backing in practice.backings] == [
        "D major",
        "G major",
        "G major",
    ]
    assert [backing.style.name for backing in practice.backings] == ["light", "light", "waltz"]
    assert [step.piece for step in practice.plan.steps] == [0, 1, 1, 2]
    assert [step.rest for step in practice.plan.steps] == [0, 0, 120, 0]
    assert practice.plan.steps[0].name == "The jig as it is"
    performance = performance_of_practice(practice)
    named = [marker.text for marker in performance.markers if marker.text in TWO]
    assert [name for name in named if len(name) > 6] == [
        "The jig as it is", "The same on the other box, a fourth up", "A waltz",
    ]  # fmt: skip
    assert render_midi(performance)[:4] == b"MThd"


def test_a_file_is_as_if_it_had_no_rests(folder):
    """The walk that a practice was read with leaves its rests out, as a plan without them does."""
    path = folder / "p.toml"
    path.write_text(TWO)
    read = read_practice(path)
    steps = tuple(step for step in read.practice.plan.steps if not step.rest)
    assert len(steps) == 3
    without = read.practice._replace(plan=Plan(steps))
    found = performance_of_practice(read.practice, read.course)
    assert found == performance_of_practice(without)
    assert "rest" not in {marker.text for marker in found.markers}


def test_a_practice_file_in_the_terminal(cli, folder):
    """It is made as it says, A at 442 hertz too; each step has a line, a rest is left out."""
    Path("p.toml").write_text(TWO)
    result = cli("make", "p.toml", "-o", "p.mid")
    assert result.code == 0, result.err
    *_, first, one, two, three, four = [line for line in result.err.splitlines() if line]
    assert first.startswith("made p.mid: Two of each, 3 steps, rests left out, A = 442 Hz, ")
    assert [one, two, three, four] == [
        "  1. The jig as it is: The Lock-Keeper's Kettle, the whole tune, 100 %, once, 35 seconds",
        "  2. The same on the other box, a fourth up: The Lock-Keeper's Kettle, the whole tune, "
        "80 %, once, 45 seconds",
        "  3. Let the arms hang: rest, 2 minutes",
        "  4. A waltz: The Lamplighter's Round, B part, 100 %, once, 15 seconds",
    ]
    refused = cli("make", "p.toml", "--percent", 60, "-o", "p.mid")
    assert refused.code == 2
    assert "a practice file says itself what is played" in refused.err
    assert cli("make", "p.toml", "--a4", 440, "-o", "p.mid").err.count("A = ") == 0


def test_a_step_stands_for_what_is_above(folder):
    """What a step says of bars or tempo stands for all of that kind above it, and for nothing
    else."""
    path = folder / "p.toml"
    path.write_text(
        f'practice = "x"\ntune = "{JIG}"\npart = "A"\npercent = "50..70"\nbeyond = 5\n'
        "[[step]]\n[[step]]\nbars = 9\n[[step]]\npercent = 80\n[[step]]\nstep = 20\n"
    )
    steps = read_practice(path).practice.plan.steps
    assert [str(step.span) for step in steps] == [
        "OneSection(name='A', ending=None)", "Bars(first=9, last=9, ending=None)",
        *["OneSection(name='A', ending=None)"] * 2,
    ]  # fmt: skip
    assert [[int(100 * rung) for rung in step.ladder] for step in steps] == [
        [50, 55, 60, 65, 70, 75, 70], [50, 55, 60, 65, 70, 75, 70], [], [50, 70, 75, 70],
    ]  # fmt: skip
    assert [step.times for step in steps] == [7, 7, 1, 4]


def test_files_of_a_players_own_lie_beside(cli, folder):
    """A box file is found beside the practice file, wherever it is made from."""
    (folder / "songs").mkdir()
    for name in (JIG,):
        (folder / "songs" / name).write_bytes((EXAMPLES / name).read_bytes())
    box = cli("boxes", "D/G", "--file").out
    (folder / "songs" / "mine.toml").write_text(box)
    (folder / "songs" / "p.toml").write_text(HEAD + 'box = "mine.toml"\n[[step]]\n')
    result = cli("make", "songs/p.toml", "-o", "p.mid")
    assert result.code == 0, result.err
