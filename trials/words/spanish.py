"""Spanish nouns in sentences: plural, gender and the words that agree with it.

Nouns come from people's own studies ("celda", "avión de papel"), so gender is told from how a noun
ends, with the common exceptions; the rules are those of a school grammar (Real Academia Española,
Nueva gramática de la lengua española: manual, 2010, chapters 2 and 3; from memory).
"""

from __future__ import annotations

import re
from types import MappingProxyType

_MASCULINE = frozenset(
    {
        "día",
        "mapa",
        "planeta",
        "problema",
        "sistema",
        "tema",
        "tranvía",
        "clima",
        "programa",
        "diagrama",
        "esquema",
        "idioma",
        "poema",
        "telegrama",
        "gas",
        "mes",
        "lápiz",
        "arroz",
        "pez",
        "análisis",
        "énfasis",
    }
)
_FEMININE = frozenset(
    {
        "mano",
        "foto",
        "moto",
        "radio",
        "clase",
        "base",
        "fuente",
        "parte",
        "serie",
        "tarde",
        "noche",
        "leche",
        "nube",
        "llave",
        "torre",
        "nave",
        "suerte",
        "sal",
        "miel",
        "piel",
        "flor",
        "labor",
        "luz",
        "red",
        "pared",
        "imagen",
        "ley",
        "señal",
        "cárcel",
        "vez",
        "cruz",
        "voz",
        "raíz",
    }
)
_EL = frozenset({"agua", "aula", "área", "arma", "alma", "ala", "ave"})  # feminine, but "el aula"
_FEMININE_END = re.compile(r"(?:a|ción|sión|zón|dad|tad|tud|umbre|sis|itis)$")
_ACCENTS = str.maketrans("áéíóú", "aeiou")
_ACCENTED = MappingProxyType({"a": "á", "e": "é", "i": "í", "o": "ó", "u": "ú"})

# for each word: before a masculine noun, before a feminine one
_FORMS = MappingProxyType(
    {
        "el": ("el", "la"),
        "los": ("los", "las"),
        "un": ("un", "una"),
        "unos": ("unos", "unas"),
        "del": ("del", "de la"),
        "al": ("al", "a la"),
        "todos los": ("todos los", "todas las"),
        "ningún": ("ningún", "ninguna"),
        "otro": ("otro", "otra"),
        "otros": ("otros", "otras"),
        "mismo": ("el mismo", "la misma"),
        "mismos": ("los mismos", "las mismas"),
    }
)
_ENDINGS = MappingProxyType({"-o": ("o", "a"), "-os": ("os", "as")})
AGREEING = frozenset(_FORMS) | frozenset(_ENDINGS)


def plural(noun: str) -> str:
    """Return the plural of a noun; of several words the first is the noun.

    Examples
    --------
    >>> [plural(noun) for noun in ("celda", "avión de papel", "lápiz", "mes", "lunes", "examen")]
    ['celdas', 'aviones de papel', 'lápices', 'meses', 'lunes', 'exámenes']
    """
    word, _, rest = noun.partition(" ")
    return f"{_word_plural(word)} {rest}".strip()


def _word_plural(word: str) -> str:
    if re.search(r"[aeiouáéó]$", word):
        return word + "s"
    if re.search(r"[áéíóú][ns]$", word):  # avión, aviones
        return word[:-2] + word[-2].translate(_ACCENTS) + word[-1] + "es"
    if word.endswith("z"):
        return word[:-1] + "ces"
    vowels = re.findall(r"[aeiouáéíóú]+", word)
    if word.endswith(("s", "x")) and len(vowels) > 1:  # lunes, tórax
        return word
    if word.endswith("en") and len(vowels) > 1 and not re.search(r"[áéíóú]", word):
        spot = max(word.rfind(vowel, 0, -2) for vowel in "aeiou")  # examen, exámenes
        word = word[:spot] + _ACCENTED[word[spot]] + word[spot + 1 :]
    return word + "es"


def is_feminine(noun: str) -> bool:
    """Return whether a noun, or the first word of several, takes "la".

    Examples
    --------
    >>> [is_feminine(noun) for noun in ("celda", "avión", "cocción", "día", "mano", "2 capas")]
    [True, False, True, False, True, True]
    """
    word = next((one for one in noun.lower().split() if one.isalpha()), "")
    single = _single(word)
    if single in _FEMININE:
        return True
    return single not in _MASCULINE and bool(_FEMININE_END.search(single))


def _single(word: str) -> str:
    """Return what may be the singular of a word, near enough to tell its gender."""
    if word in _FEMININE or word in _MASCULINE or not word.endswith("s"):
        return word
    for ending, single in (("ciones", "ción"), ("siones", "sión"), ("zones", "zón"), ("ces", "z")):
        if word.endswith(ending):
            return word[: -len(ending)] + single
    if word[:-2] in _FEMININE or word.endswith(("dades", "tades", "tudes")):
        return word[:-2]
    return word[:-1] if word.endswith(("as", "os", "es")) and not word.endswith("sis") else word


def agreeing(form: str, noun: str) -> str:
    """Return a noun with the word that agrees with it, or the ending alone ("-o": "o", "a").

    Examples
    --------
    >>> agreeing("el", "celda"), agreeing("del", "avión"), "rot" + agreeing("-os", "celdas")
    ('la celda', 'del avión', 'rotas')
    """
    feminine = is_feminine(noun)
    if form in _ENDINGS:
        return _ENDINGS[form][feminine]
    if form in ("el", "un", "del", "al") and noun.split(" ", maxsplit=1)[0].lower() in _EL:
        feminine = False
    return f"{_FORMS[form][feminine]} {noun}"


def joining(last: str, word: str) -> str:
    """Return "y" or "o", as "e" and "u" before the same sound.

    Examples
    --------
    >>> joining("and", "hibisco"), joining("and", "hierro"), joining("or", "horno")
    ('e', 'y', 'u')
    """
    start = word.lower().translate(_ACCENTS)
    if last == "and":
        return "e" if re.match(r"h?i(?![aeou])", start) else "y"
    return "u" if re.match(r"h?o", start) else "o"
