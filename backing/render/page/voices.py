"""What the reeds and the click of a page sound like: the table of reeds.toml, and the numbers
of our own sound that stand beside it."""

from typing import Any

from backing.render import sound_laws as laws
from backing.render.timbre import BRIGHT_PARTIAL, MELLOW_DB, MIDDLE, STRONGEST, timbres

#: What all is multiplied with: a page cannot measure before it plays; sound files of our examples
#: have 1.08 to 1.19 (a working value).
_MASTER = 1.14


def reed_data(a4: float, tremolo: float) -> dict[str, Any]:
    """All that a page's sound is made of, with A at `a4` hertz and the melody's reeds so many
    cents apart."""
    table = timbres()
    return {
        "a4": a4,
        "tremolo": tremolo,
        "registers": {str(role): row._asdict() for role, row in table.registers.items()},
        "knocks": {str(key): knock.partials for key, knock in table.knocks.items()},
        "attacks": [[key, seconds] for key, seconds in table.attacks.items()],
        "button": table.button._asdict(),
        "clickGain": table.click_gain,
        "clickPan": table.click_pan,
        "master": _MASTER,
        "middle": MIDDLE,
        "strongest": STRONGEST,
        "brightPartial": BRIGHT_PARTIAL,
        "mellowDb": MELLOW_DB,
        "highest": laws.HIGHEST,
        "full": laws.FULL,
        "evenDb": laws.EVEN_DB,
        "evenKey": laws.EVEN_KEY,
        "strengthStep": laws.STRENGTH_STEP,
        "leftHandCents": laws.LEFT_HAND_CENTS,
        "knockRoom": laws.KNOCK_ROOM,
        "lift": laws.LIFT,
        "bend": laws.BEND,
        "riseTaus": laws.RISE_TAUS,
        "partialsTaus": laws.PARTIALS_TAUS,
        "leadTaus": laws.LEAD_TAUS,
        "attackTaus": laws.ATTACK_TAUS,
        "breathCurve": laws.BREATH_CURVE,
        "breathSeconds": laws.BREATH_SECONDS,
        "dipSeconds": laws.DIP_SECONDS,
        "dipDb": laws.DIP_DB,
    }
