"""Small changes to tunes, as chance (seeded) makes them: what the fuzzer reads without atheris.

ABC is changed as text, MusicXML as a tree and MIDI as messages, so that most of what comes
out can still be read.
"""

import io
import random
from collections.abc import Callable, Sequence
from copy import deepcopy
from xml.etree import ElementTree

import mido

#: Words of ABC that chance would take long to find.
WORDS = (
    "X:1", "K:", "K:HP", "M:none", "L:1/16", "Q:1/4=", "[K:", "[M:", "[V:2]", "V:1", "w:", "s:",
    "m:~n2=", "U:k=", "P:A2", "+:", "%%", "I:", "(3", "(5:4:3", "(11:8:20", "|:", ":|", "[1", "[2",
    "|]", "{/", "!trill!", "!D.C.!", "!segno!", "!coda!", "&", "&&", "Z2", ">>", "<", "^^", "__",
    ",,", "transpose=", "octave=", "sound=", "clef=", "%abc-2.1", "[CEG]", "[C-E]2", "/4", ".|",
    "`", "$", "A", "c/", "^F", "=f'", "_B,3/2", "z", "x2", "-", "(", ")", '"G"', '"^up"', '"', "~",
    "[L:1/16]", "[P:B]", "y", "\n", "\\\n", "% c\n", "\nw:la-la\n", "\ns:!f!\n", "\nK:Am\n",
    "\nM:6/8\n", "[Q:1/4=90]", "\nP:A\n", "\nV:1\n", "\n%%propagate-accidentals not\n",
    "\nK:D clef=bass transpose=-2\n", "\nR:x\n", "\nT:x\n", "\\u0022", "&amp;", "9999999",
)  # fmt: skip
_LONGEST = 1_500
_NUMBERS = ("0", "1", "2", "3", "5", "7", "12", "64", "-1", "0.5", "1000000", "")

Chance = random.Random
Change = Callable[[bytes, Sequence[bytes], Chance], bytes]


def change_abc(data: bytes, others: Sequence[bytes], chance: Chance) -> bytes:
    """A text with a few pieces cut, doubled, moved or put in."""
    text = data.decode("utf-8")
    if len(text) > _LONGEST:
        start = chance.randrange(len(text) - _LONGEST)
        text = "X:1\n" + text[start : start + _LONGEST]
    for _ in range(chance.randint(1, 5)):
        text = _change_text(text or "X:1\n", others, chance)
    return text.encode()


def _change_text(text: str, others: Sequence[bytes], chance: Chance) -> str:
    at = chance.randrange(len(text) + 1)
    stop = at + chance.randint(1, 30)
    kind = chance.randrange(7)
    if kind == 0:
        return text[:at] + text[stop:]
    if kind == 1:
        return text[:at] + chance.choice(WORDS) + text[at:]
    if kind == 2:
        return text[:stop] + text[at:stop] + text[stop:]
    if kind == 3:
        place = chance.randrange(len(text) + 1)
        return text[:place] + text[at:stop] + text[place:]
    if kind == 4:
        return text[:at] + chance.choice(text) + text[at + 1 :]
    if kind == 5:
        lines = text.split("\n")
        one, other = chance.randrange(len(lines)), chance.randrange(len(lines))
        lines[one], lines[other] = lines[other], lines[one]
        return "\n".join(lines)
    other_text = chance.choice(others).decode("utf-8")
    place = chance.randrange(len(other_text) + 1)
    return text[:at] + other_text[place : place + chance.randint(1, 60)] + text[at:]


def change_musicxml(data: bytes, others: Sequence[bytes], chance: Chance) -> bytes:
    """A score with a few elements left out, doubled, moved or given another number."""
    root = ElementTree.fromstring(data)
    for _ in range(chance.randint(1, 5)):
        parents = [element for element in root.iter() if len(element)]
        parent = chance.choice(parents)
        index = chance.randrange(len(parent))
        child = parent[index]
        kind = chance.randrange(5)
        if kind == 0:
            parent.remove(child)
        elif kind == 1:
            parent.insert(index, deepcopy(child))
        elif kind == 2:
            chance.choice(parents).insert(0, deepcopy(child))
        elif kind == 3:
            forward = ElementTree.SubElement(ElementTree.Element("x"), "forward")
            ElementTree.SubElement(forward, "duration").text = chance.choice(_NUMBERS[1:6])
            parent.insert(index, forward)
        else:
            numbers = [e for e in root.iter() if (e.text or "").strip().isdecimal()]
            chance.choice(numbers or [child]).text = chance.choice(_NUMBERS)
    return ElementTree.tostring(root)


def change_midi(data: bytes, others: Sequence[bytes], chance: Chance) -> bytes:
    """A file with a few messages left out, doubled, moved in time or to another key."""
    file = mido.MidiFile(file=io.BytesIO(data))
    for _ in range(chance.randint(1, 8)):
        track = chance.choice(file.tracks)
        if len(track) < 2:
            continue
        index = chance.randrange(len(track) - 1)
        message = track[index]
        kind = chance.randrange(4)
        if kind == 0:
            del track[index]
        elif kind == 1:
            track.insert(index, message.copy())
        elif kind == 2:
            track[index] = message.copy(time=max(0, message.time + chance.randint(-200, 2000)))
        elif message.type in ("note_on", "note_off"):
            track[index] = message.copy(note=chance.randrange(128))
    out = io.BytesIO()
    file.save(file=out)
    changed = bytearray(out.getvalue())
    if chance.randrange(10) == 0:
        changed[chance.randrange(len(changed))] = chance.randrange(256)
    return bytes(changed)


CHANGES: dict[str, Change] = {
    "abc": change_abc, "musicxml": change_musicxml, "midi": change_midi,
}  # fmt: skip
