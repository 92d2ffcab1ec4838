"""How loud melody, bass, chords and click sound, style by style (ITU-R BS.1770).

    python tests/bench/balance.py [STYLE ...]

Each style plays every tune of its own kind among the examples once, at the tune's own tempo,
as sound of the built-in reeds; each track is measured alone, in LUFS before the gain of the
mix, which is one for all.  Then come the distances that are set: the bass below the melody,
the chords 2 to 4 dB below the bass, the click no louder than the melody.
"""

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from backing.arranging.arrange import arrange
from backing.arranging.arrangement import Role
from backing.files import load_style, read_tune
from backing.music.tune import Tune
from backing.practice.performance import Performance, perform
from backing.practice.plan import Plan
from backing.render.loudness import Meter
from backing.render.mix import reed_blocks

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
RATE = 48000
ROLES = (Role.MELODY, Role.BASS, Role.CHORDS, Role.CLICK)
POLKA, REEL, HALVES = "herrings-at-the-quay-steps", "ice-on-the-tiller", "forty-sacks-of-coal"
JIG, SLIP, WALTZ = "the-lock-keepers-kettle", "mist-on-the-bottom-lock", "the-lamplighters-round"
MARCH, HORNPIPE = "the-ice-boat-march", "the-towpath-mare"
#: The tunes that a style is made for; of airs, morris dances, bourrées
#: and marches in two-time the examples have none, others stand in for them.
KINDS = {
    "alternating": (POLKA, REEL, JIG, WALTZ),
    "bass-runs": (POLKA, REEL, JIG),
    "bourree": ("the-eel-trap", HALVES),
    "breathing": (WALTZ,),
    "drone": (REEL, WALTZ),
    "drone:bare": (REEL, WALTZ),
    "hornpipe": (HORNPIPE,),
    "jig": (JIG, SLIP),
    "jig:full": (JIG, SLIP),
    "light": (REEL, HALVES, JIG),
    "long-bass": (WALTZ,),
    "march": (MARCH, REEL),
    "mazurka": ("the-frozen-basin",),
    "morris": (MARCH, HALVES),
    "morris:sticks": (MARCH, HALVES),
    "pedal": (REEL, WALTZ),
    "polka": (POLKA,),
    "schottische": ("roses-on-the-water-can",),
    "sparing": (REEL, JIG, SLIP),
    "sustained": (WALTZ,),
    "three-on-two": (JIG,),
    "three-three-two": (REEL, HALVES),
    "three-two": ("the-winding-hole",),
    "two-on-three": (WALTZ,),
    "waltz": (WALTZ,),
}


class Balance(NamedTuple):
    """Loudness of each track, in LUFS; minus infinity where it is silent."""

    melody: float
    bass: float
    chords: float
    click: float

    @property
    def holds(self) -> bool:
        """True where the distances are those that are set."""
        order = self.bass < self.melody and self.click <= self.melody
        return order and 2 <= self.bass - self.chords <= 4


def tune_named(name: str) -> Tune:
    """One of the examples."""
    return read_tune(EXAMPLES / f"{name}.abc").tune


def played(tune: Tune, style: str) -> Performance:
    """The tune once in a style, with the click."""
    return perform(arrange(tune, load_style(style)), Plan(), tune)


def balance(performance: Performance) -> Balance:
    """How loud each track of a performance is by itself."""
    return Balance(*(_alone(performance, role) for role in ROLES))


def _alone(performance: Performance, role: Role) -> float:
    tracks = tuple(track for track in performance.tracks if track.role is role)
    meter = Meter(RATE)
    for block in reed_blocks(performance._replace(tracks=tracks, withheld=()), RATE):
        meter.add(block.wanted)
    return meter.loudness()


def rows(styles: list[str]) -> Iterator[tuple[str, str, Balance]]:
    """Style, tune and balance."""
    for style in styles:
        for name in KINDS[style]:
            yield style, name, balance(played(tune_named(name), style))


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("styles", nargs="*", default=list(KINDS), metavar="STYLE")
    print(f"{'style':16}{'tune':28}{'melody':>8}{'bass':>8}{'chords':>8}{'click':>8}"
          f"{'bass-mel':>10}{'chords-bass':>12}")  # fmt: skip
    for style, name, found in rows(parser.parse_args().styles):
        melody, bass, chords, click = found
        print(f"{style:16}{name:28}{melody:8.1f}{bass:8.1f}{chords:8.1f}{click:8.1f}"
              f"{bass - melody:10.1f}{chords - bass:12.1f}{'' if found.holds else '  *'}",
              flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
