"""Why chords were found, as text: a line of words for each bar, or points for each slot."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import NamedTuple

from backing.harmony.slots import Slot
from backing.harmony.suggest import Harmony
from backing.harmony.why import Explained, Reasoned, explain
from backing.music.chord import Chord
from backing.music.key import Key
from backing.music.pitch import name_of
from backing.music.played import PHRASE
from backing.music.tonality import spell_class
from backing.music.tune import Tune
from backing.wording import either, listed

_MOST_CHORDS = 3
#: How much of a stretch a note sounds at least to be named as one that asks for a chord, and the
#: notes of a chord to be most of what sounds.
_MUCH, _MOST = 0.3, 0.7


class _OneChord(NamedTuple):
    """What a bar has of one chord: its slots, the chord before and the one after."""

    slots: Sequence[Explained]
    before: Chord | None
    after: Chord | None

    @property
    def chord(self) -> Chord:
        return self.slots[0].best[0].chord


def why_lines(tune: Tune, harmony: Harmony) -> Iterator[str]:
    """Each bar with its chords and the reasons for them, in words."""
    stretches = _stretches(explain(harmony))
    chords = {
        bar: " ".join(str(stretch.chord) for stretch in of_bar) for bar, of_bar in stretches.items()
    }
    width = max(map(len, chords.values()))
    digits = max(len(str(tune.bars[bar].number)) for bar in chords)
    section = ""
    for bar, of_bar in stretches.items():
        slot = of_bar[0].slots[0].slot
        if slot.section != section:
            yield from ([""] if section else [])
            section = slot.section
            yield f"{section} part, {slot.key}"
        words = [_words(stretch) for stretch in of_bar]
        if len(of_bar) > 1:
            words = [f"{one.chord}: {text}" for one, text in zip(of_bar, words, strict=True)]
        yield f"  {tune.bars[bar].number:>{digits}}  {chords[bar]:<{width}}  {'; '.join(words)}"


def _stretches(explained: Sequence[Explained]) -> dict[int, list[_OneChord]]:
    found: dict[int, list[_OneChord]] = {}
    at = 0
    for (bar, chord), group in groupby(
        explained, key=lambda one: (one.slot.bar, one.best[0].chord)
    ):
        slots = list(group)
        before = slots[0].slot.before
        at += len(slots)
        found.setdefault(bar, []).append(
            _OneChord(
                slots,
                explained[before].best[0].chord if before >= 0 else None,
                next((one.best[0].chord for one in explained[at:] if one.best[0].chord != chord),
                     None) if at < len(explained) else None,
            )
        )  # fmt: skip
    return found


def _words(stretch: _OneChord) -> str:
    """The reasons for a chord in a bar, those that tell most first."""
    reasons = list(dict.fromkeys([*_of_notes(stretch), *_of_place(stretch)]))
    return ", ".join(reasons)


def _of_notes(stretch: _OneChord) -> Iterator[str]:
    chord = stretch.chord
    key = stretch.slots[0].slot.key
    tones = _sounding(stretch.slots)
    held = [tone for tone in tones if tone in chord.pitch_classes]
    if set(chord.pitch_classes) <= tones.keys() and sum(tones[tone] for tone in held) > _MOST:
        most = "" if len(held) == len(tones) else "most of "
        yield f"{most}its notes make {chord}"
        return
    if stretch.chord == stretch.before and not held:
        yield f"{chord} goes on"
        return
    asking = next((tone for tone in held if tones[tone] >= _MUCH), None)
    if asking is not None:
        able = _able(stretch, asking)
        yield f"the {_name(asking, key)} needs {either(able)}"
        with_it = [tone for tone in held if tone != asking and tones[tone] >= _MUCH / 2]
        if with_it:
            yield f"{listed([_name(tone, key) for tone in with_it])} {_fits(with_it)} too"
    elif held:
        yield f"{listed([_name(tone, key) for tone in held])} {_fits(held)}"
    seventh = (chord.root + 10) % 12
    if chord.kind == "major" and tones.get(seventh, 0.0) >= _MUCH / 2 and _leads_home(stretch):
        yield f"the {_name(seventh, key)} makes it a seventh"


def _fits(tones: Sequence[int]) -> str:
    return "fits" if len(tones) == 1 else "fit"


def _able(stretch: _OneChord, tone: int) -> list[str]:
    """The best of the chords that hold a note, the chosen one first."""
    slots = stretch.slots
    options = [
        one.chord
        for one in slots[0].rated
        if tone in one.chord.pitch_classes and one.chord.kind != "diminished"
    ]
    chosen = stretch.chord
    return [str(chord) for chord in dict.fromkeys([chosen, *options])][:_MOST_CHORDS]


def _of_place(stretch: _OneChord) -> Iterator[str]:
    chord, last = stretch.chord, stretch.slots[-1]
    slot, key = last.slot, last.slot.key
    rest = slot.tones.get("last" if slot.closes else "closing", ())
    decided = stretch.slots[0].decided
    if rest and rest[0][0] in chord.pitch_classes:
        what = "part" if slot.closes else "phrase"
        yield f"the {what} ends on {_name(rest[0][0], key)}"
    elif _leads_home(stretch) and slot.in_phrase >= PHRASE - 2 and _is_home(stretch.after, key):
        yield f"cadence to {stretch.after}"
    elif decided == "chord before" and stretch.before == chord:
        yield f"{chord} goes on"
    elif decided == "chord after" and stretch.after is not None:
        yield f"it leads to {stretch.after}"
    elif decided == "chord before" and stretch.before is not None:
        yield f"it follows {stretch.before}"
    elif decided == "place":
        yield _place(slot)
    if stretch.slots[0].at_hand:
        yield f"at hand, {stretch.slots[0].at_hand} would do as well"


def _leads_home(stretch: _OneChord) -> bool:
    """True for a chord a fifth above the next."""
    return stretch.after is not None and (stretch.chord.root - stretch.after.root) % 12 == 7


def _is_home(chord: Chord | None, key: Key) -> bool:
    return chord is not None and chord.root == key.tonic


def _place(slot: Slot) -> str:
    if not slot.bars_in:
        return "usual where a part begins"
    return ("usual where a phrase begins", "usual in the phrase's second bar",
            "usual before a phrase ends", "usual where a phrase ends")[slot.in_phrase]  # fmt: skip


def _sounding(slots: Iterable[Explained]) -> dict[int, float]:
    """How much of the slots each pitch class sounds, the most first."""
    shares: dict[int, float] = {}
    lengths = sum(one.slot.length for one in slots)
    for one in slots:
        for tone, share in one.slot.tones["sounding"]:
            shares[tone] = shares.get(tone, 0.0) + share * float(one.slot.length / lengths)
    return dict(sorted(shares.items(), key=lambda item: -item[1]))


def _name(tone: int, key: Key) -> str:
    return name_of(*spell_class(tone, key))


# -- in points ----------------------------------------------------------------------


def points_lines(tune: Tune, harmony: Harmony) -> Iterator[str]:
    """Each bar with its notes, the best chords for each slot and what speaks for them, in
    points."""
    yield (
        "For each bar its notes, then the best chords for each part of it that may have its own, "
        "with"
    )
    yield (
        "their points: what its notes say, those on the beats, passing ones, the notes before and"
    )
    yield (
        "after; its place in the part; the chord before and the chord after; whether the box has "
        "it."
    )
    yield "The last word is what decided."
    section, bar = "", -1
    for explained in explain(harmony):
        slot = explained.slot
        if slot.section != section:
            section = slot.section
            yield ""
            yield f"{section} part, {slot.key}"
        if slot.bar != bar:
            bar = slot.bar
            yield f"bar {tune.bars[bar].number}: {_notes(tune, bar)}"
        yield from _slot_lines(explained)


def _notes(tune: Tune, bar: int) -> str:
    names = [
        "+".join(name_of(pitch.step, pitch.alter) for pitch in note.pitches) or "-"
        for note in tune.melody.bars[bar]
    ]
    return " ".join(names)


def _slot_lines(explained: Explained) -> Iterator[str]:
    for place, option in enumerate(explained.best):
        lead = "  " if place else ("> " if explained.slot.bar_start else ". ")
        tail = f"   {explained.decided}" if not place and explained.decided else ""
        yield f"  {lead}{option.chord!s:<5}{option.reasons.points:5.1f}  ({_sum(option)}){tail}"


def _sum(option: Reasoned) -> str:
    names = ("notes", "beats", "passing", "around", "place", "before", "after", "box")
    return ", ".join(
        f"{name} {points:+.1f}"
        for name, points in zip(names, option.reasons, strict=True)
        if round(points, 1)
    )
