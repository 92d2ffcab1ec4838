"""Every style over six small tunes as text, one line a bar: read before they are kept.

A line is the bar's number, its chord symbols, then each stroke: the beat it falls on (1 is
the first, 2.5 half way to the third), the bass note or the chord's notes from the lowest,
how many felt beats it lasts, its strength.  The second time through a section only bars
that differ are shown, marked with 2.
"""

import re
from fractions import Fraction

import pytest

from backing.arranging.arrange import Manner, arrange
from backing.files import load_style, style_files
from backing.parse.abc import parse_abc

TUNES = {
    "jig": """X:1
T:Two Dry Dinghies
R:jig
M:6/8
L:1/8
K:D
|:A|"D"d2f "G"gfe|"A7"cBA efg|"D"fed "Bm"dcB|"A"ABA A2f|
"D"d2f "G"gfe|"A7"cBA efg|"Bm"fdB "A7"gec|"D"d3 d2:|
""",
    "reel": """X:2
T:The Coal Wharf Cat
R:reel
M:4/4
L:1/8
K:G
|:"G"GABd gdBd|"Em"efge "D"dBAF|"G"GABd gfed|"Am"cBAG "D"FGAF|
"G"GABd gdBd|"Em"efge "D7"d2ef|"C"g3e "D7"dBAF|"G"G2BA G4:|
""",
    "waltz": """X:3
T:Lanterns in the Reeds
R:waltz
M:3/4
L:1/4
K:C
|:"C"c2e|"G/B"d2B|"Am"c>BA|"F"A2c|"C"e2g|"Dm7"f>ed|"G7"BGB|"C"c3:|
""",
    "polka": """X:4
T:Mud on the Ferry Boots
R:polka
M:2/4
L:1/8
K:G
|:"G"BG Bd|"C"e>f ed|"G"B/c/d BG|"D"A2 A2|"G"BG Bd|"C"e>f ed|"D7"c/B/A/G/ F/G/A/F/|"G"G2 G2:|
""",
    "hornpipe": """X:5
T:The Bargee's Buttons
R:hornpipe
M:4/4
L:1/8
K:D
|:de|"D"fdAd fafd|"G"gfge "A7"c2de|"D"fdAd fafd|"A"e2a2 a2de|
"D"fdAd fafd|"G"gfge "A7"c2de|"Bm"fd2B "A7"(3cBA (3gec|"D"d2f2 d2:|
""",
    "three-two": """X:6
T:Old Weir Stones
R:hornpipe
M:3/2
L:1/4
K:Am
|:"Am"A2 A2 c>B|"G"B G2 A B2|"Am"c2 c2 e>d|"E"B2 E4|
"Am"A2 A2 c>B|"G"B G2 A B2|"F"c>B A2 "E"B>^G|"Am"A2 A4:|
""",
}
NAMES = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"]


def decimal(number):
    """A number as it is read aloud: at most two decimals."""
    return f"{float(number):.2f}".rstrip("0").rstrip(".")


def strokes(arrangement, bar):
    """The strokes that begin in a bar, as text."""
    unit = bar.metre.beats[0]
    _, bass, chords = arrangement.tracks
    found = []
    for track, is_bass in ((bass, True), (chords, False)):
        for event in track.events:
            if bar.onset <= event.onset < bar.stop:
                names = [NAMES[pitch % 12] for pitch in event.pitches]
                notes = names[0] if is_bass else "-".join(names)
                at, lasts = (event.onset - bar.onset) / unit + 1, event.length / unit
                text = f"{decimal(at)} {notes} x{decimal(lasts)} {event.velocity}"
                found.append((event.onset, not is_bass, text))
    return "  ".join(text for _, _, text in sorted(found))


def page(name, text, style):
    """A tune in a style: its bars as lines."""
    arrangement = arrange(parse_abc(text), style, Manner())
    lines, first = [], {}
    for bar in arrangement.bars:
        symbols = [c.text for c in arrangement.chords if bar.onset <= c.onset < bar.stop]
        played = strokes(arrangement, bar)
        if first.setdefault(bar.index, played) == played and bar.time > 1:
            continue
        mark = "2" if bar.time > 1 else " "
        lines.append(f"{mark} {bar.number}  {' '.join(symbols):8}  {played}".rstrip())
    metre = arrangement.bars[0].metre
    head = f"{name} in {metre}, felt in {metre.feel}: {re.search('T:(.*)', text)[1]}"
    return "\n".join([head, *lines])


@pytest.mark.slow
@pytest.mark.parametrize("name", [name for name, file in style_files().items() if not file.own])
def test_golden(name, golden):
    """The style is, over each of the six tunes, the text that was read and kept."""
    style = load_style(name)
    pages = [page(tune, text, style) for tune, text in TUNES.items()]
    golden(f"style-{name}", "\n\n".join(pages) + "\n")


def test_numbers_are_short():
    """The texts show a third as 0.33 and whole beats without a point."""
    assert decimal(Fraction(1, 3)) == "0.33"
    assert decimal(Fraction(2)) == "2"
