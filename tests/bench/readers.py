"""Read whole collections of ABC, and compare with music21's reader note by note.

    python tests/bench/readers.py [--sample 200] [--speed]

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
from pathlib import Path
from random import Random
from typing import Any

from backing.errors import BackingError
from backing.music.tune import Tune
from backing.parse.abc import TuneText, parse_abc, read_tune, split_book

COLLECTIONS = ("ryansMammoth", "airdsAirs", "oneills1850", "miscFolk", "essenFolksong")
SEED = 2100
#: Pitches and length in quarter notes.
Heard = list[tuple[tuple[int, ...], Fraction]]

#: Classes of disagreement: what music21 does, and the clause that settles it.
VERDICTS = {
    "accidentals": "music21 drops an accidental after its note; it holds through the bar "
    "(ABC 2.1 clause 4.2 and 11.3)",
    "ties": "music21 takes the key's pitch after a tie over the bar line; the tied note keeps "
    "its accidental (4.11, common practice)",
    "rests": "music21 drops x and Z rests; they last (4.5)",
    "broken": "music21 misses a broken rhythm with a decoration, slur, quote or grace note "
    "beside it (4.4, 4.20)",
    "key changes": "music21 ignores inline K:, L:, M: and modified keys (3.2, 3.1.14)",
    "voices": "music21 joins voices or keeps a repeated voice apart; ours is the first voice (7)",
    "note for note": "only the order inside a chord, or a grace note, differs",
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


def report(name: str) -> list[tuple[TuneText, Tune]]:
    """Read a collection and print how it went; the tunes that were read."""
    read, refused = [], []
    for text in texts_of(name):
        try:
            read.append((text, read_tune(text)))
        except BackingError as error:
            refused.append(f"{text.title}: {error.message}")
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


def without_accidentals(text: str) -> str:
    """The text with accidentals that reach no further than their own note."""
    return re.sub(r"^(K:.*)$", r"%%propagate-accidentals not\n\1", text, count=1, flags=re.M)


def without_rests(text: str) -> str:
    """The text without the rests that music21 drops."""
    head, _, body = text.partition("\nK:")
    return head + "\nK:" + re.sub(r"(?<![\w\"!])[xXZ]\d*(/\d*)?", "", body)


def explain(text: str, heard: Heard) -> str:
    """The class of a disagreement, "" for none that is known."""
    body = text.partition("\nK:")[2]
    if re.search(r"\nV:|\[V:", "\n" + body):
        return "voices"
    if re.search(r"\[[KLMQ]:|^K:\s*\S+\s+[\^_=]", "K:" + body, re.M):
        return "key changes"
    steps: list[tuple[str, Callable[[str], str]]] = [
        ("accidentals", without_accidentals),
        ("rests", without_rests),
    ]
    changed = text
    for name, step in steps:
        changed = step(changed)
        for candidate in (step(text), changed):
            if agree(candidate, heard):
                return name
    if re.search(r"[<>]\s*[\"!{(~.HLMOPSTuv]|[)\"}]\s*[<>]", body):
        return "broken"
    if re.search(r"[_^=][A-Ga-g][,']*\d*/*\d*-", body):
        return "ties"
    return ""


def agree(text: str, heard: Heard) -> bool:
    """True where our reading of this text is what was heard."""
    try:
        return ours(parse_abc(text)) == heard
    except BackingError:
        return False


def compare(read: list[tuple[TuneText, Tune]], sample: int) -> None:
    """Compare a sample with music21 and print the classes of disagreement."""
    classes: Counter[str] = Counter()
    unexplained = []
    chosen = Random(SEED).sample(read, min(sample, len(read)))
    for text, tune in chosen:
        whole = "\n".join(text.lines) + "\n"
        try:
            heard = theirs(whole)
        except Exception as error:  # whatever music21 fails on is counted
            classes[f"music21 fails: {type(error).__name__}"] += 1
            continue
        if ours(tune) == heard:
            classes["the same"] += 1
            continue
        found = explain(whole, heard)
        classes[found or "not explained"] += 1
        if not found:
            unexplained.append(f"{text.number} {text.title}")
    print(f"  of {len(chosen)} tunes, compared with music21:")
    for name, count in classes.most_common():
        print(f"  {count:6} {name}")
    for title in unexplained:
        print(f"         not explained: {title}")


def speed() -> None:
    """1,000 tunes beside music21, and how time grows with length."""
    texts = ["\n".join(text.lines) + "\n" for text in texts_of("ryansMammoth")[:1000]]
    started = time.perf_counter()
    for text in texts:
        parse_abc(text)
    each = (time.perf_counter() - started) / len(texts)
    sample = Random(SEED).sample(texts, 30)
    theirs(sample[0])
    started = time.perf_counter()
    for text in sample:
        theirs(text)
    other = (time.perf_counter() - started) / len(sample)
    print(f"\n1,000 tunes, text to tune: {each * 1e3:.2f} ms each; music21 {other * 1e3:.0f} ms "
          f"each on 30 of them: {other / each:.0f} times as long (goal: 30)")  # fmt: skip
    head, phrase = "X:1\nM:4/4\nL:1/8\nK:D\n", "d2fd edBc|d2fd e2ag|fdAF GBAG|FDEF D4|\n"
    for bars in (32, 320, 3200):
        text = head + phrase * (bars // 4)
        started = time.perf_counter()
        parse_abc(text)
        taken = time.perf_counter() - started
        print(f"  {bars:5} bars: {taken * 1e3:8.2f} ms, {taken / bars * 1e6:6.1f} us a bar")


def main() -> None:
    """Print everything that is asked for."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--sample", type=int, default=100, help="tunes compared a collection")
    parser.add_argument("--speed", action="store_true")
    asked = parser.parse_args()
    warnings.simplefilter("ignore")
    if asked.speed:
        speed()
        return
    for name in COLLECTIONS:
        compare(report(name), asked.sample)
    print("\nverdicts")
    for name, verdict in VERDICTS.items():
        print(f"  {name}: {verdict}")


if __name__ == "__main__":
    main()
