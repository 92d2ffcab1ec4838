"""The words of the index of a site, by language: one table."""

import re
from collections.abc import Mapping
from typing import NamedTuple


class IndexWords(NamedTuple):
    """What the index says in a language.

    `found` and `some` have {shown} and {all} in them.  `grades` are from the easiest, `missing`
    stands for one where the box has not all notes.  `modes`, `keys` and `dances` go by our own
    names, and those that are missing stay as they are.
    """

    home: str
    search: str
    hint: str
    title: str
    dance: str
    key: str
    grade: str
    box: str
    sheet: str
    also: str
    practice: str
    every_dance: str
    every_key: str
    every_grade: str
    clear: str
    one: str
    found: str
    some: str
    none: str
    grades: tuple[str, ...]
    missing: str
    key_form: str
    modes: Mapping[str, str]
    keys: Mapping[str, str]
    dances: Mapping[str, str]


_ENGLISH = IndexWords(
    home="all tunes",
    search="Search",
    hint="title, dance, key",
    title="Title",
    dance="Dance",
    key="Key",
    grade="Grade",
    box="Box",
    sheet="To print",
    also="also",
    practice="practice",
    every_dance="every dance",
    every_key="every key",
    every_grade="every grade",
    clear="show all",
    one="1 tune",
    found="{all} tunes",
    some="{shown} of {all} tunes",
    none="No tune is found: try fewer words, or show all.",
    grades=("easy", "fairly easy", "middling", "hard", "very hard"),
    missing="notes missing",
    key_form="{tonic} {mode}",
    modes={},
    keys={},
    dances={},
)
# Names of keys, modes and dances in German and French: common practice, no source.
_GERMAN = IndexWords(
    home="alle Stücke",
    search="Suche",
    hint="Titel, Tanz, Tonart",
    title="Titel",
    dance="Tanz",
    key="Tonart",
    grade="Schwierigkeit",
    box="Instrument",
    sheet="Noten",
    also="auch",
    practice="Übung",
    every_dance="jeder Tanz",
    every_key="jede Tonart",
    every_grade="jede Schwierigkeit",
    clear="alle zeigen",
    one="1 Stück",
    found="{all} Stücke",
    some="{shown} von {all} Stücken",
    none="Kein Stück gefunden: weniger Wörter versuchen, oder alle zeigen.",
    grades=("leicht", "ziemlich leicht", "mittel", "schwer", "sehr schwer"),
    missing="Töne fehlen",
    key_form="{tonic}-{mode}",
    modes={
        "major": "Dur", "minor": "Moll", "dorian": "Dorisch", "mixolydian": "Mixolydisch",
        "lydian": "Lydisch", "phrygian": "Phrygisch", "locrian": "Lokrisch",
    },
    keys={
        "B": "H", "Bb": "B", "C#": "Cis", "D#": "Dis", "E#": "Eis", "F#": "Fis", "G#": "Gis",
        "A#": "Ais", "B#": "His", "Cb": "Ces", "Db": "Des", "Eb": "Es", "Fb": "Fes", "Gb": "Ges",
        "Ab": "As",
    },
    dances={
        "waltz": "Walzer", "polka": "Polka", "march": "Marsch", "mazurka": "Mazurka",
        "schottische": "Schottisch", "bourrée": "Bourrée", "air": "Lied",
        "3/2 hornpipe": "Hornpipe im 3/2-Takt",
    },
)  # fmt: skip
_FRENCH = IndexWords(
    home="tous les airs",
    search="Chercher",
    hint="titre, danse, tonalité",
    title="Titre",
    dance="Danse",
    key="Tonalité",
    grade="Difficulté",
    box="Instrument",
    sheet="À imprimer",
    also="aussi",
    practice="exercice",
    every_dance="toutes les danses",
    every_key="toutes les tonalités",
    every_grade="toutes les difficultés",
    clear="tout montrer",
    one="1 air",
    found="{all} airs",
    some="{shown} airs sur {all}",
    none="Aucun air trouvé : essayez moins de mots, ou montrez tout.",
    grades=("facile", "assez facile", "moyen", "difficile", "très difficile"),
    missing="notes absentes",
    key_form="{tonic} {mode}",
    modes={
        "major": "majeur", "minor": "mineur", "dorian": "dorien", "mixolydian": "mixolydien",
        "lydian": "lydien", "phrygian": "phrygien", "locrian": "locrien",
    },
    keys={
        letter + sign: name + said
        for letter, name in zip("CDEFGAB", ("do", "ré", "mi", "fa", "sol", "la", "si"), strict=True)
        for sign, said in (("", ""), ("#", " dièse"), ("b", " bémol"))
    },
    dances={
        "waltz": "valse", "march": "marche", "schottische": "scottish", "air": "air",
        "3/2 hornpipe": "hornpipe à 3/2",
    },
)  # fmt: skip

#: By language (ISO 639-1).
INDEX_WORDS: Mapping[str, IndexWords] = {"en": _ENGLISH, "de": _GERMAN, "fr": _FRENCH}


def key_said(key: str, words: IndexWords) -> str:
    """A key as `str(Key)` says it, in a language.

    >>> [key_said("F# minor", words) for words in INDEX_WORDS.values()]
    ['F# minor', 'Fis-Moll', 'fa dièse mineur']
    """
    match = re.fullmatch(r"([A-G][#b]?) ([a-z]+)", key)
    if match is None or (words.modes and match[2] not in words.modes):
        return key
    tonic, mode = match.groups()
    return words.key_form.format(
        tonic=words.keys.get(tonic, tonic), mode=words.modes.get(mode, mode)
    )
