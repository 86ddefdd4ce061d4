"""What to lay out to be worn, by the signs of the cautions, and how many tools are in use."""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal
from types import MappingProxyType
from typing import Final

from trials.words.language import marked, say
from trials.words.numbers import capital, count, listing

# ISO 7010 signs of what a person wears, and what that is called; the signs' own meanings are in
# cautions.toml.
WORN: Final = MappingProxyType(
    {
        "M003": marked("Ear protection"),
        "M004": marked("Eye protection"),
        "M007": marked("Dark eye protection"),
        "M008": marked("Safety shoes"),
        "M009": marked("Protective gloves"),
        "M010": marked("Protective clothing"),
        "M013": marked("Face shield"),
        "M014": marked("Head protection"),
        "M016": marked("Mask"),
        "M017": marked("Respiratory protection"),
        "M059": marked("Laboratory coat"),
    }
)
UP_TO: Final = marked(
    "'Up to': in use at once. If you have fewer, write how many under [equipment] in study.toml "
    "and place the work again."
)
_NAMES: Final = MappingProxyType(
    {  # parts of the names under which a study has them among its materials or tools
        "M003": ("ear protection", "ear plug", "tapones", "protectores de oído"),
        "M004": ("eye protection", "safety glasses", "goggles", "gafas", "lentes de seguridad"),
        "M009": ("glove", "guante"),
        "M013": ("face shield", "pantalla facial", "careta"),
        "M016": ("dust mask", "face mask", "mascarilla", "cubrebocas"),
        "M059": ("laboratory coat", "lab coat", "bata"),
    }
)
_ONCE: Final = ("M009", "M016")  # gloves and masks: common practice, no source
_SEVERAL: Final = MappingProxyType(
    {
        "two": 2,
        "three": 3,
        "four": 4,
        "five": 5,
        "six": 6,
        "dos": 2,
        "tres": 3,
        "cuatro": 4,
        "cinco": 5,
        "seis": 6,
    }
)
WEAR: Final = marked("To wear: one for each who works, and yours")


def is_worn(code: str, name: str) -> bool:
    """Return whether a material or a tool of this name is what a sign asks to wear.

    Examples
    --------
    >>> is_worn("M009", "disposable gloves"), is_worn("M016", "mask of black card")
    (True, False)
    """
    return any(word in name.casefold() for word in _NAMES.get(code, ()))


def worn_once(name: str) -> bool:
    """Return whether a thing of this name is worn in one lesson only, and then thrown away.

    Examples
    --------
    >>> worn_once("disposable gloves"), worn_once("dust mask"), worn_once("safety glasses")
    (True, True, False)
    """
    return any(is_worn(code, name) for code in _ONCE)


def worn_number(code: str, amount: Decimal, unit: str) -> int:
    """Return for how many people an amount of what is worn is: of gloves two make one.

    Examples
    --------
    >>> worn_number("M009", Decimal(24), ""), worn_number("M009", Decimal(18), "pair")
    (12, 18)
    >>> worn_number("M004", Decimal(6), "")
    6
    """
    single = code == "M009" and unit.strip() in ("", "1")
    return math.ceil(amount / 2 if single else amount)


def to_wear(
    code: str,
    students: int | None,
    who: Sequence[str] = (),
    *,
    listed: int = 0,
    whole: bool = True,
) -> str:
    """Return what is laid out to be worn, and for how many; pairs of gloves are one.

    Parameters
    ----------
    students : how many there are; None: not said.
    who : the people who alone do what asks for it, where it isn't the class.
    listed : for how many it is among what is used up.
    whole : the study names it at each step that asks for it, so that no more is needed.

    Examples
    --------
    >>> to_wear("M004", 30), to_wear("M009", 30)
    ('Eye protection (M004): 30', 'Protective gloves (M009): 30 pairs')
    >>> to_wear("M004", None), to_wear("M009", 30, ["the adult"])
    ('Eye protection (M004): one each', 'Protective gloves (M009): for the adult')
    >>> to_wear("M009", 30, listed=18)
    'Protective gloves (M009): 18 pairs, listed below; not all 30 do this at once'
    >>> to_wear("M009", 18, listed=18)
    'Protective gloves (M009): 18 pairs, listed below'
    >>> to_wear("M009", 30, listed=18, whole=False)
    'Protective gloves (M009): 30 pairs, 18 of them listed below'
    """
    if who:
        many = say("for {who}", who=listing(list(who)))
    elif listed and (whole or students is None or listed >= students):
        many = say("{number}, listed below", number=_pairs(code, listed))
        if students is not None and listed < students:
            many = say(
                "{number}; not all {students} do this at once", number=many, students=students
            )
    elif students is None:
        many = say("one each")
    else:
        many = _pairs(code, students)
        if listed:
            many = say("{number}, {listed} of them listed below", number=many, listed=listed)
    return f"{say(WORN[code])} ({code}): {many}"


def _pairs(code: str, number: int) -> str:
    return count(number, say("pair")) if code == "M009" else str(number)


def in_use(name: str, at_once: int) -> str:
    """Return a tool with how many are in use at once; of what is named as several, all of them.

    Examples
    --------
    >>> in_use("Glass rod", 6), in_use("Two binder clips", 6)
    ('Glass rod: up\\xa0to\\xa06', 'Binder clips: up\\xa0to\\xa012, two each time')
    """
    first, _, rest = name.partition(" ")
    several = _SEVERAL.get(first.casefold(), 1)
    if several == 1 or not rest:
        return say("{name}: up\u00a0to\u00a0{n}", name=name, n=at_once)
    return say(
        "{name}: up\u00a0to\u00a0{n}, {several} each time",
        name=capital(rest),
        n=several * at_once,
        several=first.casefold(),
    )
