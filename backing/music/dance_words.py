"""The words that name a dance, language by language, in titles and where a dance is told.

The words are those of common practice, from memory, and of open collections ("strathsy.");
no source orders them.  Case, accents and hyphens do not matter; an ending of the plural may
follow.  `ENDINGS` are found at the end of longer words: Germanic languages join them.
"""

from collections.abc import Iterator, Mapping
from functools import cache
from unicodedata import normalize

#: A dance by its name in `dance.DANCES`, then the language (ISO 639-1), its words parted by
#: commas.  Longer names win over shorter ones.
WORDS: Mapping[str, Mapping[str, str]] = {
    "3/2 hornpipe": {"en": "3/2, 3/2 hornpipe, triple hornpipe, triple time hornpipe, "
                           "old hornpipe"},
    "slip jig": {"en": "slip jig, slipjig, hop jig, hopjig, 9/8", "ga": "port luascach",
                 "fr": "gigue à neuf temps"},
    "slide": {"en": "slide", "ga": "sleamhnán"},
    "single jig": {"en": "single jig", "ga": "port singil"},
    "jig": {"en": "jig, jigg, double jig, treble jig", "fr": "gigue", "it": "giga", "es": "giga",
            "pl": "gigue", "ga": "port dúbailte"},
    "strathspey": {"en": "strathspey, strathsy, strathpey, fling, highland, highland fling, "
                         "highland schottische", "gd": "srath spè"},
    "hornpipe": {"en": "hornpipe, horn pipe", "ga": "cornphíopa, crannciúil"},
    "clog": {"en": "clog, clog dance"},
    "reel": {"en": "reel, breakdown, hoedown, rant", "ga": "ríl", "gd": "ruidhle",
             "da": "ril", "sv": "engelska"},
    "polka": {"en": "polka", "es": "polca", "fi": "polkka", "ga": "polca", "hu": "polka",
              "pl": "polki, polkę, polce", "it": "polche"},
    "schottische": {"en": "schottische, barndance, barn dance, scottische", "de": "schottischer, "
                    "schottisch, rheinländer", "sv": "schottis", "nb": "reinlender",
                    "es": "chotis, chotís", "fi": "sottiisi",
                    "it": "scottisch", "pl": "szocz, szotysz", "eu": "xotis"},
    "mazurka": {"en": "mazurka, varsovienne, redowa", "sv": "masurka", "nb": "masurka",
                "de": "masurka", "pl": "mazurek, mazur", "es": "mazurca", "fi": "masurkka",
                "ga": "masúrca", "fr": "varsoviana"},
    "waltz": {"en": "waltz, waltzes", "fr": "valse", "de": "walzer, ländler",
              "sv": "vals, valsen, brudvals, bondvals, gammalvals", "da": "brudevals, bryllupsvals",
              "nb": "brurevals", "it": "valzer", "es": "vals, valses", "pt": "valsa",
              "pl": "walc, walczyk", "eu": "balsa, baltsa", "fi": "valssi", "ga": "bhálsa, válsa",
              "nl": "wals"},
    "bourrée": {"fr": "bourrée, bourée, bourrees", "oc": "borrèia"},
    "march": {"en": "march, marches, quickstep, quick step, quick march, two step, twostep",
              "fr": "marche, pas redoublé", "de": "marsch", "da": "march", "nb": "marsj",
              "sv": "marsch, gånglåt", "it": "marcia", "es": "marcha, pasacalle",
              "eu": "martxa, kalejira, biribilketa", "ga": "máirseáil", "pl": "marsz",
              "fi": "marssi"},
    "morris": {"en": "morris, morris dance, morris tune"},
    "air": {"en": "air, slow air, song, lament, lamentation, lullaby, planxty, elegy, dirge, "
                  "cradle song",
            "ga": "fonn mall, caoineadh, suantraí, amhrán", "gd": "cumha, tàladh, fonn",
            "fr": "complainte, berceuse, air lent", "de": "wiegenlied, klagelied, schlaflied",
            "sv": "vaggvisa, klagovisa", "da": "vuggevise", "nb": "voggesang, bånsull",
            "it": "ninna nanna, lamento", "es": "nana, canción de cuna, lamento",
            "eu": "seaska kanta, sehaska kanta", "br": "gwerz", "pl": "kołysanka, kołysanki"},
}  # fmt: skip
#: Dances of which nothing more is known here: a title that names one is none of the above.
OTHERS: Mapping[str, str] = {
    "en": "minuet, polonaise, gavotte, sarabande, saraband, allemande, pavane, galliard",
    "sv": "polska, slängpolska, hambo, menuett, polonäs, halling",
    "nb": "pols, springar, springleik, gangar, rull", "da": "polsk, menuet, sønderhoning",
    "de": "zwiefacher, menuett, polonäse", "fr": "menuet, rondeau, branle, sarabande, pavane",
    "br": "an dro, hanter dro, laridé, plinn, kas a barh, ridée, fisel",
    "eu": "fandango, arin arin, zortziko, porrusalda, jota, aurresku",
    "es": "jota, fandango, muñeira, seguidilla, bolero, minueto, pasodoble",
    "it": "tarantella, saltarello, minuetto, pizzica, manfrina",
    "pl": "polonez, oberek, kujawiak, krakowiak, zbójnicki, menuet",
}  # fmt: skip
#: What ends a longer word, and its dance: "Brudvals", "Hochzeitsmarsch".
ENDINGS = {
    "walzer": "waltz", "landler": "waltz", "polka": "polka",
    "polkan": "polka", "marsch": "march", "marsj": "march", "masurka": "mazurka",
    "schottis": "schottische", "polska": "", "polskan": "", "menuett": "",
}  # fmt: skip
#: Words that name a dance only where a title ends with them.
_ONLY_LAST = ("air", "song")
#: What names no dance in a title: places, people, months.
_NOTHING = (
    "the air", "open air", "fresh air", "in air", "march hare", "in march", "of march",
    "highland", "morris",
)  # fmt: skip
_PLURALS = ("s", "es", "n", "en", "er", "e")
_SIGNS = str.maketrans({"ł": "l", "ø": "o", "æ": "ae", "ð": "d", "ß": "ss"})
_LONGEST = 4


def plain_words(text: str) -> list[str]:
    """The words of a text in small letters, without accents.

    >>> plain_words("Bourrée de l'Été (Slip-Jig)")
    ['bourree', 'de', 'l', 'ete', 'slip', 'jig']
    """
    letters = normalize("NFKD", text.casefold().translate(_SIGNS))
    kept = "".join(
        sign if sign.isalnum() or sign == "/" else " "
        for sign in letters
        if not 0x300 <= ord(sign) < 0x370
    )
    return kept.split()


@cache
def words_for(dance: str) -> tuple[str, ...]:
    """The words of a dance in all languages, plain, the longest first."""
    words = [word for text in WORDS[dance].values() for word in text.split(",")]
    plain = dict.fromkeys(" ".join(plain_words(word)) for word in words)
    return tuple(sorted(plain, key=len, reverse=True))


@cache
def _known() -> dict[str, str | None]:
    """Each plain word with its dance; "" for other dances, None for what only looks like one."""
    known: dict[str, str | None] = {
        " ".join(plain_words(word)): "" for text in OTHERS.values() for word in text.split(",")
    }
    for dance in WORDS:
        known.update(dict.fromkeys(words_for(dance), dance))
    return known | dict.fromkeys(_NOTHING, None)


def dances_named(title: str) -> Iterator[str]:
    """The dances that a title names, the last first; "" for one that is not known here.

    >>> list(dances_named("The Reel of the Slip Jigs"))
    ['slip jig', 'reel']
    """
    words = plain_words(title)
    stop = len(words)
    while stop:
        size, dance = next(_ending_at(words[:stop]), (1, None))
        if dance is not None and (stop == len(words) or words[stop - 1] not in _ONLY_LAST):
            yield dance
        stop -= size


def _ending_at(words: list[str]) -> Iterator[tuple[int, str | None]]:
    """What the last words of some name, and how many they are: the longest name first."""
    known = _known()
    for size in range(min(_LONGEST, len(words)), 0, -1):
        word = " ".join(words[-size:])
        for form in (word, *(word.removesuffix(end) for end in _PLURALS if word.endswith(end))):
            if form in known:
                yield size, known[form]
    for ending, dance in ENDINGS.items():
        if words[-1].endswith(ending):
            yield 1, dance
