"""Read whole collections of ABC, and compare with music21's reader note by note.

    python tests/bench/readers.py [--sample 60] [--list] [--speed]

The collections come with the music21 package (ryansMammoth, airdsAirs, oneills1850,
miscFolk, essenFolksong).  Printed are, for each, how many tunes are read without a
notice, with notices, and refused and why; then, for a seeded sample, how many tunes
music21 reads to the same pitches and lengths, and the classes of disagreement.  A
disagreement belongs to a class where reading as music21 does makes both equal; the
verdicts stand in `VERDICTS`.  Tunes that no class explains are named.

With --speed: the time for 1,000 tunes beside music21's on a sample in the same run, and
how the time grows with the length of a tune.
"""

import argparse
import importlib.util
import re
import sys
import time
import warnings
from collections import Counter
from collections.abc import Callable
from fractions import Fraction
from functools import partial
from itertools import combinations
from pathlib import Path
from random import Random
from typing import Any

from backing.errors import BackingError
from backing.music.tune import Tune
from backing.parse.abc import TuneText, parse_abc, split_book, tune_of

COLLECTIONS = ("ryansMammoth", "airdsAirs", "oneills1850", "miscFolk", "essenFolksong")
SEED = 2100
#: Pitches and length in quarter notes.
Heard = list[tuple[tuple[int, ...], Fraction]]

#: Classes of disagreement: what music21 10.5 does, and the clause of ABC 2.1 that settles it.
VERDICTS = {
    "accidentals": "it drops an accidental after its note; it holds through the bar (4.2, 11.3)",
    "ties": "after a tie over the bar line it takes the key's pitch; the tied note keeps its "
    "accidental (4.11, common practice)",
    "rests": "it drops x and Z rests; they last (4.5)",
    "lost notes": 'it loses a note before :: without a space, and one after an H or a text ">" '
    "(4.8, 4.14, 4.19)",
    "grace notes": "it loses what follows a chord in grace notes (4.12)",
    "broken": "it misses a broken rhythm with a decoration, slur, quote or grace note beside it "
    "(4.4, 4.20)",
    "by hand": "read by a person: several of these in one tune, or a grace note inside a triplet "
    "(4.12, 4.13); ours is as written",
    "split": "it splits a note that is longer than its bar; it is one note (4.3)",
    "key changes": "it ignores inline K: and L:, and accidentals in K: (3.2, 3.1.14)",
    "voices": "it joins voices; ours is the first voice (7)",
}


def corpus() -> Path:
    """The folder of collections in the installed music21, which is not imported."""
    spec = importlib.util.find_spec("music21")
    if spec is None or not spec.submodule_search_locations:
        sys.exit("the collections are not here: install music21")
    return Path(next(iter(spec.submodule_search_locations))) / "corpus"


def texts_of(name: str) -> list[TuneText]:
    """All tunes of a collection, not yet read."""
    return [
        text
        for path in sorted((corpus() / name).glob("*.abc"))
        for text in split_book(path.read_text(encoding="utf-8", errors="replace"))
    ]


def read_all(name: str) -> tuple[list[tuple[TuneText, Tune]], list[str]]:
    """The tunes of a collection, and those that were refused and why."""
    read, refused = [], []
    for text in texts_of(name):
        try:
            read.append((text, tune_of(text)))
        except BackingError as error:
            refused.append(f"{text.title}: {error.message}")
    return read, refused


def report(name: str) -> list[tuple[TuneText, Tune]]:
    """Read a collection and print how it went; the tunes that were read."""
    read, refused = read_all(name)
    odd = sum(bool(tune.notices) for _, tune in read)
    total = len(read) + len(refused)
    print(f"\n{name}: {total:,} tunes; {len(read) - odd:,} without a notice "
          f"({(len(read) - odd) / total:.1%}), {odd:,} with, {len(refused)} refused")  # fmt: skip
    kinds = Counter(re.sub(r"'[^']*'|\d+(/\d+)?", "#", notice.message)
                    for _, tune in read for notice in tune.notices)  # fmt: skip
    for kind, count in kinds.most_common(6):
        print(f"  {count:6} {kind}")
    for line in refused:
        print(f"  refused: {line}")
    return read


def ours(tune: Tune) -> Heard:
    """What the melody holds, rests with no pitches."""
    return [
        (tuple(sorted(pitch.midi for pitch in note.pitches)), note.length * 4)
        for bar in tune.melody.bars
        for note in bar
    ]


def theirs(text: str) -> Heard:
    """What music21 reads."""
    import music21

    score: Any = music21.converter.parse(text, format="abc", forceSource=True)
    if isinstance(score, music21.stream.Opus):
        score = score.scores[0]
    return [
        (tuple(sorted(p.midi for p in item.pitches)), Fraction(item.quarterLength))
        for item in score.parts[0].flatten().notesAndRests
        if item.quarterLength and not isinstance(item, music21.harmony.ChordSymbol)
    ]


def change_body(text: str, pattern: str, by: str) -> str:
    """The text with something replaced in its music."""
    head, key, body = text.partition("\nK:")
    first, end, music = body.partition("\n")
    return head + key + first + end + re.sub(pattern, by, music)


#: How to read as music21 does, by class; tried alone and together, in this order.
AS_THERE: dict[str, Callable[[str], str]] = {
    "accidentals": lambda text: re.sub(
        r"^(K:.*)$", r"%%propagate-accidentals not\n\1", text, count=1, flags=re.M
    ),
    "rests": lambda text: change_body(text, r"(?<![\w\"!])[xXZ]\d*(/\d*)?", ""),
    "lost notes": lambda text: change_body(
        text,
        r"(?:H|\"[<>]\")[\^_=]*[A-Ga-g][,']*\d*(/\d*)?|[\^_=]*[A-Ga-g][,']*\d*(/\d*)?(?=::)",
        "",
    ),
    "broken": lambda text: change_body(text, r"[<>]+(?=[\"!{()~.HLMOPSTuv])|(?<=[)\"}])[<>]+", ""),
    "grace notes": lambda text: change_body(text, r"\{\[[^}]*\}\S*", ""),
}


def explain(text: str, heard: Heard) -> str:
    """The classes of a disagreement, "" for none that is known."""
    body = text.partition("\nK:")[2]
    if re.search(r"\nV:|\[V:", "\n" + body):
        return "voices"
    if re.search(r"\[[KLMQ]:|^K:\s*\S+\s+[\^_=]", "K:" + body, re.M):
        return "key changes"
    for count in range(3):
        for names in combinations(AS_THERE, count):
            changed = text
            for name in names:
                changed = AS_THERE[name](changed)
            found = [*names, "split"]
            if changed == text and names:
                continue
            try:
                mine = ours(parse_abc(changed))
            except BackingError:
                continue
            if mine == heard:
                return " + ".join(names)
            if joined(mine, heard):
                return " + ".join(found)
    return "ties" if re.search(r"[_^=][A-Ga-g][,']*\d*/*\d*-", body) else ""


def joined(mine: Heard, heard: Heard) -> bool:
    """True where the other's notes, some of them in pieces, are ours."""
    pieces = iter(heard)
    for pitches, length in mine:
        left = length
        while left > 0:
            other, part = next(pieces, ((), Fraction(0)))
            if other != pitches or not 0 < part <= left:
                return False
            left -= part
    return next(pieces, None) is None


def sample_of(read: list[tuple[TuneText, Tune]], count: int) -> list[tuple[TuneText, Tune]]:
    """So many tunes, always the same ones."""
    return Random(SEED).sample(read, min(count, len(read)))


def key_of(text: TuneText) -> str:
    """What a tune is listed under."""
    return f"{text.number} {text.title}".translate({34: None, 92: None})


def verdict_on(text: TuneText, tune: Tune) -> str:
    """ "the same", a class of `VERDICTS` (or several), or "by hand" where none fits."""
    whole = "\n".join(text.lines) + "\n"
    try:
        heard = theirs(whole)
    except Exception as error:  # whatever music21 fails on is counted
        return f"music21 fails: {type(error).__name__}"
    return "the same" if ours(tune) == heard else explain(whole, heard) or "by hand"


def compare(name: str, read: list[tuple[TuneText, Tune]], sample: int, *, listed: bool) -> None:
    """Compare a sample with music21 and print the classes of disagreement."""
    classes: Counter[str] = Counter()
    chosen = sample_of(read, sample)
    lines = []
    for text, tune in chosen:
        verdict = verdict_on(text, tune)
        classes[verdict] += 1
        if verdict != "the same":
            lines.append(f'"{key_of(text)}" = "{verdict}"')
    if listed:
        print(f"\n[{name}]", *lines, sep="\n")
        return
    print(f"  of {len(chosen)} tunes, compared with music21:")
    for verdict, count in classes.most_common():
        print(f"  {count:6} {verdict}")


def best_of(rounds: int, work: Callable[[], object]) -> float:
    """The shortest time that some work takes, in milliseconds."""
    times = []
    for _ in range(rounds):
        started = time.perf_counter()
        work()
        times.append(time.perf_counter() - started)
    return min(times) * 1e3


def speed() -> None:
    """1,000 tunes beside music21 on some of them, and how time grows with length."""
    texts = ["\n".join(text.lines) + "\n" for text in texts_of("ryansMammoth")[:1000]]
    sample = Random(SEED).sample(texts, 30)
    theirs(sample[0])
    every = best_of(3, lambda: [parse_abc(text) for text in texts]) / len(texts)
    # by turns, so that whatever else the machine does slows both
    pairs = [
        (best_of(3, lambda: [parse_abc(text) for text in sample]) / len(sample),
         best_of(1, lambda: [theirs(text) for text in sample]) / len(sample))
        for _ in range(4)
    ]  # fmt: skip
    each, other = (min(column) for column in zip(*pairs, strict=True))
    print(f"\n1,000 tunes, text to tune: {every:.2f} ms each; 30 of them: {each:.2f} ms each, "
          f"music21 {other:.0f} ms, {other / each:.0f} times as long (goal: 30)")  # fmt: skip
    head, phrase = "X:1\nM:4/4\nL:1/8\nK:D\n", "d2fd edBc|d2fd e2ag|fdAF GBAG|FDEF D4|\n"
    for bars in (32, 320, 3200):
        text = head + phrase * (bars // 4)
        taken = best_of(3, partial(parse_abc, text))
        print(f"  {bars:5} bars: {taken:8.2f} ms, {taken / bars * 1e3:6.1f} us a bar")


def main() -> None:
    """Print everything that is asked for."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--sample", type=int, default=60, help="tunes compared a collection")
    parser.add_argument("--speed", action="store_true")
    parser.add_argument("--list", action="store_true", help="the disagreements as TOML")
    asked = parser.parse_args()
    warnings.simplefilter("ignore")
    if asked.speed:
        speed()
        return
    if asked.list:
        for name in COLLECTIONS:
            compare(name, read_all(name)[0], asked.sample, listed=True)
        return
    for name in COLLECTIONS:
        compare(name, report(name), asked.sample, listed=False)
    print("\nverdicts")
    for name, verdict in VERDICTS.items():
        print(f"  {name}: {verdict}")


if __name__ == "__main__":
    main()
