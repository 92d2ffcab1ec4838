"""A page as it is open in an engine: where its parts are, and what a player does with it.

What a page is asked for goes by its keys, which mean what they mean in `backing play`; where its
parts stand, and by which names its script has them, is said here alone.
"""

from pathlib import Path
from typing import Any

#: The page's own object.
PAGE = "backing"
BAR, SOUNDS, ROUND, TITLE, LINES = ".bar", ".bar.sounds", ".bar.round", "h1", ".line > svg"
#: Keeps what the page's sound is asked for, and when, beside what sounds.
LISTEN = """() => {
  const sound = PAGE._sound;
  const press = sound.press.bind(sound);
  globalThis.heard = [];
  sound.press = (role, key, velocity, at) => {
    const voice = press(role, key, velocity, at);
    const note = { role, key, at, stop: null };
    heard.push(note);
    return {
      letGo: (moment) => { note.stop = moment; voice.letGo(moment); },
      hold: () => { note.stop = null; voice.hold(); },
      cancel: () => { heard.splice(heard.indexOf(note), 1); voice.cancel(); },
    };
  };
}""".replace("PAGE", PAGE)
_MIDDLE = """([selector, number]) => {
  const found = document.querySelectorAll(selector)[number];
  found.scrollIntoView({ block: "center", behavior: "instant" });
  const { x, y, width, height } = found.getBoundingClientRect();
  return [x + width / 2, y + height / 2];
}"""


class Opened:
    """A page from a file, when its sheet is shown."""

    def __init__(self, engine: Any, path: Path) -> None:
        self.tab = engine(path)
        self.tab.until(f"document.querySelector('{BAR}')")
        self.tab.evaluate(LISTEN)

    # -- what a player does

    def play_or_stop(self) -> None:
        self.tab.press(" ")

    def play_or_stop_by_pedal(self) -> None:
        self.tab.press("PageDown")

    def again_by_pedal(self) -> None:
        self.tab.press("PageUp")

    def slower(self) -> None:
        self.tab.press("ArrowDown")

    def turn_melody(self) -> None:
        self.tab.press("1")

    def whole_tune(self) -> None:
        self.tab.press("w")

    def tap(self, selector: str, number: int = 0) -> None:
        """Where several are found, one by its number."""
        self.tab.tap(*self.tab.evaluate(_MIDDLE, [selector, number]))

    def tap_bar(self, index: int) -> None:
        self.tap(f'{BAR}[data-bar="{index}"]')

    # -- what comes of it

    def until_it_sounds(self) -> None:
        self.tab.until(f"document.querySelector('{SOUNDS}')")

    def player(self, what: str) -> Any:
        """Of the page's player."""
        return self.tab.evaluate(f"() => {PAGE}.player.{what}")

    def now(self) -> float:
        """Seconds of its sound."""
        return float(self.tab.evaluate(f"() => {PAGE}._sound.now()"))

    def state_of_sound(self) -> str:
        return str(self.tab.evaluate(f"() => {PAGE}._sound.made.context.state"))

    def until_moment(self, moment: float) -> None:
        self.tab.until(f"{PAGE}._sound.now() > {moment}")

    def heard(self, role: str) -> list[dict[str, Any]]:
        """Keys of a track: `at` and `stop` in seconds of its sound."""
        found: list[dict[str, Any]] = self.tab.evaluate(
            "role => heard.filter((note) => note.role === role)", role
        )
        return found
