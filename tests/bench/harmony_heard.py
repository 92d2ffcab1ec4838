"""Whether each harmony is heard: what the left hand leaves out, counted over collections.

    python tests/bench/harmony_heard.py [FOLDER] [--sample 60] [--every 1]

Three collections through every style that is shipped, with its variants: the examples, a
sample of Ryan's Mammoth Collection (in the music21 package) with chords found, and the ABC
books with chord symbols in FOLDER, of which `--every` takes only every so-manieth tune.
Counted for each style, of the harmonies (or sections, or bars) that there are:

    no bass     harmonies at whose entry the bass that the symbol names is not struck
    late        harmonies in which nothing is heard within a felt beat of their entry
    last        last harmonies of a section (a time through) that never get their bass
    end fifth   sections whose last bass is not the one that the symbol names
    down        downbeats where a chord is new or a phrase begins with another bass
    avoid       basses a fourth above the root, where the chord has no such note
    long        silences of more than a felt beat in bars of fast notes that end no phrase, where
                the style plays otherwise there than elsewhere
    same        basses struck a fifth time and more in a row, where none of the five has a reason:
                a harmony enters or a phrase begins there, the style holds them, or the tune names
                them (D/F#)
    steps       per cent of the steps from bass to bass that repeat the note

Drones, pedals and styles without basses are left out.
"""

import argparse
from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import groupby, pairwise
from pathlib import Path

from chords import chorded_tunes
from common import collection_paths, sample_of

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import Arrangement, Event, Role
from backing.arranging.places import OF_THE_MELODY, Place, stands
from backing.arranging.spans import HarmonySpan, chord_spans
from backing.arranging.style import Hand, Style
from backing.errors import BackingError
from backing.files import load_style, style_files
from backing.harmony.suggest import suggest_chords, with_chords
from backing.music.played import MappedBar, as_played
from backing.music.tune import Tune
from backing.parse.abc import parse_abc, split_book, tune_of

_EXAMPLES = Path(__file__).parents[2] / "examples"
#: A swung melody moves an entry by less than this.
_SWUNG = Fraction(1, 12)
_HEAD = ("no bass", "late", "last", "end fifth", "down", "avoid", "long", "same", "steps")


def lands(style: Style) -> bool:
    """True for styles that have basses on changes."""
    basses = [s for f in style.figures for s in f.strokes if s.play is Hand.BASS]
    return not style.from_key and any(not stroke.on_tonic for stroke in basses)


def styles() -> list[Style]:
    """Ours, each with its variants."""
    names = [name for name, file in style_files().items() if not file.own]
    found = [load_style(name) for name in names]
    found += [style.variant(variant.name) for style in found for variant in style.variants]
    return sorted(filter(lands, found), key=lambda style: style.name)


def examples() -> list[Tune]:
    """The tunes that come with us."""
    books = [path.read_text(encoding="utf-8") for path in sorted(_EXAMPLES.glob("*.abc"))]
    return [_chorded(tune_of(text)) for book in books for text in split_book(book)]


def sample(count: int) -> list[Tune]:
    """Tunes without chords, given those that are suggested."""
    found = []
    for path in sample_of(collection_paths(), count):
        try:
            found.append(_chorded(parse_abc(path.read_text(errors="replace"))))
        except BackingError as error:
            print(f"{path.name}: {error.message}")
    return found


def _chorded(tune: Tune) -> Tune:
    return tune if tune.has_chords else with_chords(tune, suggest_chords(tune))


def counted(tune: Tune, style: Style) -> Counter[str]:
    """What is left out, and of how many."""
    made = arrange(tune, style)
    _, bass, chords = (track.events for track in made.tracks)
    spans = chord_spans(made.bars, tune.bars).spans
    found: Counter[str] = Counter()
    for span, following in zip(spans, [*spans[1:], None], strict=True):
        if span.bar.pickup:
            continue
        inside = _begin_in(bass, span.start, span.stop)
        named = [e for e in inside if e.pitches[0] % 12 == span.chord.bass_class]
        heard = [*inside, *_begin_in(chords, span.start, span.stop)]
        soon = span.start + span.bar.beats()[0][1]
        closes = following is None or following.bar.part != span.bar.part
        found["harmonies"] += 1
        found["no bass"] += not any(e.onset <= span.start + _SWUNG for e in named)
        found["late"] += not any(e.onset < soon for e in heard)
        found["sections"] += closes
        found["last"] += closes and not named
    found.update(_of_basses(bass, spans, made.bars))
    if any(Place.FAST in figure.only | figure.never | figure.mentioned for figure in style.figures):
        found["long"] += sum(_silences(made, tune, spans))
    return found


def _begin_in(events: Sequence[Event], start: Fraction, stop: Fraction) -> list[Event]:
    return [event for event in events if start <= event.onset < stop]


def _of_basses(
    bass: Sequence[Event], spans: Sequence[HarmonySpan], bars: Sequence[MappedBar]
) -> Counter[str]:
    found: Counter[str] = Counter()
    starts, onsets = [span.start for span in spans], [bar.onset for bar in bars]
    under = [
        (event, spans[bisect_right(starts, event.onset) - 1],
         bars[bisect_right(onsets, event.onset) - 1])
        for event in bass
    ]  # fmt: skip
    for _, part in groupby(under, key=lambda each: each[2].part):
        event, span, _ = list(part)[-1]
        found["end fifth"] += event.pitches[0] % 12 != span.chord.bass_class
    before = None
    for event, span, bar in under:
        tone, chord = event.pitches[0] % 12, span.chord
        known = {*chord.pitch_classes, chord.bass_class}
        found["avoid"] += (tone - chord.root) % 12 == 5 and tone not in known
        due = span is not before or bar.opens_phrase
        found["down"] += due and event.onset == bar.onset and tone != chord.bass_class
        before = span
    found["basses"] += len(bass)
    tones = [event.pitches[0] for event in bass]
    found["repeats"] += sum(one == other for one, other in pairwise(tones))
    found["same"] += _in_a_row(under)
    return found


def _in_a_row(under: Sequence[tuple[Event, HarmonySpan, MappedBar]]) -> int:
    """How many basses are struck a fifth time and more in a row, without a reason."""
    count = 0
    before: tuple[int, HarmonySpan | None] = (0, None)
    row = 0
    for event, span, bar in under:
        now = (event.pitches[0], span)
        given = event.length > bar.length or span.chord.bass is not None
        reason = span is not before[1] or (bar.opens_phrase and event.onset == bar.onset) or given
        row = row + 1 if now[0] == before[0] and not reason else 1
        count += row > 4
        before = now
    return count


def _silences(made: Arrangement, tune: Tune, spans: Sequence[HarmonySpan]) -> Iterator[bool]:
    """Of each bar of fast notes under a harmony: whether too long a silence is in it."""
    where = stands(as_played(tune), (), OF_THE_MELODY)
    events = sorted(
        (e for track in made.tracks if track.role is not Role.MELODY for e in track.events),
        key=lambda event: event.onset,
    )
    for bar, stand in zip(made.bars, where, strict=True):
        if Place.FAST not in stand.places or bar.begins or bar.position == bar.phrase.stop - 1:
            continue
        if not any(span.start < bar.stop and bar.onset < span.stop for span in spans):
            continue
        longest = max(length for _, length, _ in bar.beats())
        at, most = bar.onset, Fraction(0)
        for event in events:
            if event.onset < bar.stop and event.stop > bar.onset:
                most, at = max(most, event.onset - at), max(at, event.stop)
        yield max(most, bar.stop - at) > longest


def report(title: str, tunes: Iterable[Tune]) -> Counter[str]:
    """A line for each style, and one for all."""
    tunes, whole = list(tunes), Counter[str]()
    print(f"\n{title}: {len(tunes)} tunes\n{'':20}{'harmonies':>10}{'sections':>10}", end="")
    print(*(f"{name:>10}" for name in _HEAD), sep="")
    for style in styles():
        found = sum((counted(tune, style) for tune in tunes), Counter[str]())
        _line(style.name, found)
        whole += found
    _line("all", whole)
    return whole


def _line(name: str, found: Counter[str]) -> None:
    found["steps"] = round(100 * found["repeats"] / max(1, found["basses"]))
    print(f"{name:20}{found['harmonies']:10,}{found['sections']:10,}", end="")
    print(*(f"{found[key]:10,}" for key in _HEAD), sep="")
    del found["steps"]


def main() -> None:
    """Print the counts of each collection."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("folder", nargs="?", type=Path, help="ABC books with chord symbols")
    parser.add_argument("--sample", type=int, default=60, help="so many of Ryan's tunes")
    parser.add_argument("--every", type=int, default=1, help="only every so-manieth tune of FOLDER")
    asked = parser.parse_args()
    report("examples", examples())
    report("Ryan's Mammoth Collection", sample(asked.sample))
    if asked.folder:
        report(str(asked.folder), chorded_tunes(asked.folder)[:: asked.every])


if __name__ == "__main__":
    main()
