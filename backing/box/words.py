"""A fit in a player's words."""

from collections.abc import Iterator, Sequence

from backing.box.bellows import SMALL, Bellows, Drift, Spot
from backing.box.fit import Fit, FoundNote, Gap
from backing.box.grace_notes import GraceChange
from backing.box.grips import tonic_of
from backing.box.layout import Layout
from backing.box.remedies import Change
from backing.music.chord import Chord
from backing.music.key import Key
from backing.music.pitch import name_of
from backing.music.saying import AtOnce, Fact, InBars, NoteName, in_bars, moved_by, said_in
from backing.music.tonality import spell, spell_class
from backing.wording import count, listed

#: No more gaps than this in a paragraph, nor notes in a sentence.
_MOST_GAPS, _MOST_NOTES = 4, 6


def paragraph(found: Fit) -> str:
    """The fit in a few sentences."""
    return " ".join([sits(found), *_going(found), *_missing_chords(found), _air(found)])


def row_name(layout: Layout, row: int) -> str:
    """A row by its key note: the D row."""
    return name_of(*spell_class(tonic_of(layout.rows[row]), Key()))


def sits(found: Fit) -> str:
    """Whether the tune sits on the box, and where not."""
    box = found.layout.name
    if not found.fits:
        gone = _names(found.missing)
        verb = "is" if len(found.missing) == 1 else "are"
        return f"Does not sit on your {box}: {gone} {verb} not there."
    return f"Sits on your {box}, {found.octave} octave, {_rows(found)}.{_buttons(found)}"


def _rows(found: Fit) -> str:
    """Whether it stays in a row."""
    if len(found.layout.rows) == 1:
        return "on its one row"
    names = [row_name(found.layout, row) for row in found.homes]
    rows = f"{' and '.join(names)} row{'s by turns' if len(names) > 1 else ''}"
    if not found.off_home:
        return f"all in one row, the {rows}" if len(names) == 1 else f"all on the {rows}"
    if 2 * len(found.off_home) <= found.bars:
        return f"all on the {rows} except {in_bars(found.off_home)}"
    return f"across the rows, at home on the {rows}"


def _buttons(found: Fit) -> str:
    """What must be said of single notes."""
    said = []
    if found.accidentals:
        said.append(
            f"{_names(found.accidentals)} need{'s' if len(found.accidentals) == 1 else ''} "
            "an accidental button"
        )
    if found.unreached:
        said.append(f"{_names(found.unreached)}: the lower note of a stop is left out")
    return "".join(f" {text}." for text in said)


def _names(notes: Sequence[FoundNote]) -> str:
    named = [f"{note.pitch} ({in_bars(note.bars)})" for note in notes[:_MOST_NOTES]]
    more = [f"{len(notes) - _MOST_NOTES} more"] if len(notes) > _MOST_NOTES else []
    return listed([*named, *more])


def _going(found: Fit) -> Iterator[str]:
    """How often the bellows change."""
    words: list[str] = []
    for part in found.parts:
        if not words:
            words.append(f"{count(part.changes, 'bellows change')} in {_a_part(part.section)}")
        else:
            words.append(f"{part.changes} in {_a_part(part.section)}")
    if len(words) <= 4:
        yield f"{listed(words)}."
    else:
        yield f"{count(found.fingering.reversals, 'bellows change')} in all."


def _a_part(section: str) -> str:
    return f"{article(section)} {section} part"


def article(name: str) -> str:
    """The article before a section's name: an A part, a B part."""
    return "an" if name[:1].upper() in "AEFHILMNORSX" else "a"


def _missing_chords(found: Fit) -> Iterator[str]:
    if found.share is None:
        yield "No chords are given."
        return
    told = _gaps(found)
    if not told:
        yield "Every chord is at hand on the beat."
    for gaps in told[:_MOST_GAPS]:
        yield _gap_words(found.layout, gaps)
    named = {gaps[0].chord for gaps in told[:_MOST_GAPS]}
    others = [str(gaps[0].chord) for gaps in told[_MOST_GAPS:] if gaps[0].chord not in named]
    if others:
        chords = list(dict.fromkeys(others))
        verb = "is" if len(chords) == 1 else "are"
        yield f"{listed(chords)} {verb} missing now and then too."


def _gaps(found: Fit) -> list[list[Gap]]:
    """What is missing, both ways together where the same is played instead: the commonest
    first."""
    together: dict[tuple[Chord, str], list[Gap]] = {}
    for gap in found.gaps:
        together.setdefault((gap.chord, gap.instead.words(found.layout)), []).append(gap)
    return list(together.values())


def _gap_words(layout: Layout, gaps: Sequence[Gap]) -> str:
    """A chord that is missing, one way or both, and what is played instead."""
    bars = in_bars(sorted({bar for gap in gaps for bar in gap.bars}))
    ways = gaps[0].direction.value if len(gaps) == 1 else "push and pull"
    instead = gaps[0].instead.words(layout)
    played = instead if instead == "rest" else f"{instead} instead"
    return f"{gaps[0].chord} chord missing in {bars} ({ways}): {played}."


def gaps_in_words(found: Fit) -> list[str]:
    """The chords that are missing on beats, a sentence each."""
    return [_gap_words(found.layout, gaps) for gaps in _gaps(found)]


def gaps_besides(found: Fit) -> list[str]:
    """Those that the paragraph does not tell."""
    return gaps_in_words(found)[_MOST_GAPS:]


def grace_said(change: GraceChange, key: Key) -> Fact:
    """A grace note that is not there as the bellows go, and what to do instead."""
    return Fact(
        "grace-struck" if change.again else "grace-left-out",
        {
            "grace": _at_once(change.grace, key),
            "note": _at_once(change.note, key),
            "bars": InBars(tuple(change.bars)),
            "way": Fact(str(change.direction)),
        },
    )


def keys_named(keys: Sequence[int], key: Key) -> str:
    """Notes struck together by their names: "D+F#"."""
    return said_in(_at_once(keys, key))


def _at_once(keys: Sequence[int], key: Key) -> AtOnce:
    found = [spell(each, key) for each in keys]
    return AtOnce(tuple(NoteName(name_of(pitch.step, pitch.alter)) for pitch in found))


# -- air ----------------------------------------------------------------------------


def _air(found: Fit) -> str:
    air = found.bellows
    said = []
    if air.limits:
        said.append(runs_out(air))
    drifts = {drift.section: drift for drift in air.drifts if abs(drift.share) > SMALL}
    if drifts:
        said.append(f"the bellows end {listed([_drift(drift) for drift in drifts.values()])}")
    if not said:
        return "Air: the bellows come back to where they were."
    return f"Air: {'; '.join([*said, _spot(found, air)])}."


def runs_out(air: Bellows) -> str:
    """Where the bellows meet their ends."""
    words = []
    for closed, text in ((True, "the bellows are shut"), (False, "it runs out")):
        bars = sorted({limit.bar for limit in air.limits if limit.closed is closed})
        if bars:
            words.append(f"{text} in {in_bars(bars)}")
    return ", ".join(words)


def lasts(air: Bellows) -> str:
    """Whether there is air enough, and where not."""
    return runs_out(air) if air.limits else "there is enough"


def _further(beats: float) -> str:
    """So many beats of playing as a way of the bellows."""
    return f"{count(max(round(abs(beats)), 1), 'beat')} further {'out' if beats > 0 else 'in'}"


def _drift(drift: Drift) -> str:
    return f"{_further(drift.beats)} each {drift.section} part"


def drifts_in_words(air: Bellows) -> Iterator[str]:
    """Where the bellows end after each part, time after time, and after the tune."""
    parts: dict[str, list[str]] = {}
    for drift in air.drifts:
        parts.setdefault(drift.section, []).append(_ending(drift.beats))
    for section, ends in parts.items():
        yield f"{section} part: {', then '.join(dict.fromkeys(ends))}"
    yield f"the whole tune: {_ending(sum(drift.beats for drift in air.drifts))}"


def _ending(beats: float) -> str:
    return _further(beats) if round(beats) else "where it began"


def _spot(found: Fit, air: Bellows) -> str:
    wanted = "push" if air.drift > 0 else "pull"
    if not air.spots:
        return f"no note is long: press the air button briefly on a {wanted} note"
    return f"use the air button {spot_words(found, air.spots[0])}"


def spot_words(found: Fit, spot: Spot) -> str:
    """A place for the air button."""
    note = spell(spot.pitch, found.line.key)
    name = name_of(note.step, note.alter)
    where = f"bar {spot.bar}" if spot.bar else "the pickup"
    if spot.why == "run":
        way = "push" if found.bellows.drift > 0 else "pull"
        return f"with the {way} that begins on the {name} in {where}"
    if spot.why == "rest":
        return f"in the rest of {where}"
    if spot.why == "end of phrase":
        return f"on the {name} at the end of the phrase in {where}"
    return f"on the long {name} in {where}"


# -- what helps -----------------------------------------------------------------------


def change_words(change: Change) -> str:
    """An odd note and what to play for it."""
    way = f", {moved_by(12 * change.octaves)}," if change.octaves else ""
    return f"{change.instead}{way} for {change.note} in {in_bars(change.bars)}"
