"""What the reeds and the click of a page sound like: the table of reeds.toml, and what our own
sound makes of it."""

from typing import Any

from backing.render.breath import pressure_laws
from backing.render.mix import LIFT
from backing.render.reeds import reed_laws
from backing.render.speaking import speaking_laws
from backing.render.timbre import timbres

#: What all is multiplied with: a page cannot measure before it plays; sound files of our examples
#: have 1.08 to 1.19 (a working value).
_MASTER = 1.14


def reed_data(a4: float, tremolo: float) -> dict[str, Any]:
    """The table, and the numbers that stand beside it."""
    table = timbres()
    return {
        "a4": a4,
        "tremolo": tremolo,
        "registers": {str(role): row._asdict() for role, row in table.registers.items()},
        "knocks": {str(key): knock.partials for key, knock in table.knocks.items()},
        "attacks": [[key, seconds] for key, seconds in table.attacks.items()],
        "button": table.button._asdict(),
        "master": _MASTER,
        "lift": LIFT,
        "clickGain": table.click_gain,
        "clickPan": table.click_pan,
        **reed_laws(),
        **speaking_laws(),
        **pressure_laws(),
    }
