"""The signs of a note: ornaments, articulations, technical signs, fermatas."""

from xml.etree.ElementTree import Element

from backing.render.musicxml.elements import allowed

#: Decorations that are written as a loudness, not at the note.
LOUDNESS = frozenset({"p", "pp", "ppp", "pppp", "mp", "mf", "f", "ff", "fff", "ffff", "sfz"})
#: The element of each decoration (names of ABC 2.1 clause 4.14; MusicXML 4.0, `notations`).
_SIGNS = {
    "ornaments": {
        "trill": "trill-mark", "turn": "turn", "invertedturn": "inverted-turn",
        "lowermordent": "mordent", "mordent": "mordent", "uppermordent": "inverted-mordent",
        "pralltriller": "inverted-mordent", "tremolo": "tremolo",
    },
    "technical": {
        "upbow": "up-bow", "downbow": "down-bow", "open": "open-string",
        "thumb": "thumb-position", "snap": "snap-pizzicato", "plus": "stopped",
    },
    "articulations": {
        "staccato": "staccato", "accent": "accent", ">": "accent", "emphasis": "accent",
        "marcato": "strong-accent", "tenuto": "tenuto", "wedge": "staccatissimo",
        "portato": "detached-legato", "breath": "breath-mark", "caesura": "caesura",
        "slide": "scoop",
    },
    "": {"arpeggio": "arpeggiate", "fermata": "fermata", "invertedfermata": "fermata"},
}  # fmt: skip
_PLACES = {name: (group, tag) for group, row in _SIGNS.items() for name, tag in row.items()}
_ATTRIBUTES = {
    "fermata": {"type": "upright"}, "invertedfermata": {"type": "inverted"},
    "marcato": {"type": "up"}, "tremolo": {"type": "single"},
}  # fmt: skip


def signs_of(names: tuple[str, ...]) -> list[Element]:
    """The children of `notations` for decorations; one without a sign in MusicXML is written
    by its name."""
    groups: dict[str, Element] = {}
    single: list[Element] = []
    for name in names:
        if name in LOUDNESS:
            continue
        group, sign = _sign(name)
        if group:
            groups.setdefault(group, Element(group)).append(sign)
        else:
            single.append(sign)
    return [*groups.values(), *single]


def _sign(name: str) -> tuple[str, Element]:
    """The group that a sign belongs to, and the sign."""
    if len(name) == 1 and name.isdecimal():
        group, tag, text = "technical", "fingering", name
    elif name in _PLACES:
        group, tag = _PLACES[name]
        text = "3" if name == "tremolo" else ""
    else:
        group, tag, text = "articulations", "other-articulation", name
    sign = Element(tag, _ATTRIBUTES.get(name, {}))
    sign.text = allowed(text) or None
    return group, sign
