"""What to lay out to be worn, by the signs of the cautions, and how many tools are in use."""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal
from types import MappingProxyType
from typing import Final

from trials.words.numbers import NBSP, capital, count, listing

# ISO 7010 signs of what a person wears, and what that is called; the signs' own meanings are in
# cautions.toml.
WORN: Final = MappingProxyType(
    {
        "M003": "Ear protection",
        "M004": "Eye protection",
        "M007": "Dark eye protection",
        "M008": "Safety shoes",
        "M009": "Protective gloves",
        "M010": "Protective clothing",
        "M013": "Face shield",
        "M014": "Head protection",
        "M016": "Mask",
        "M017": "Respiratory protection",
        "M059": "Laboratory coat",
    }
)
UP_TO: Final = (
    "'Up to': in use at once. If you have fewer, write how many under [equipment] in study.toml "
    "and place the work again."
)
_NAMES: Final = MappingProxyType(
    {  # parts of the names under which a study has them among its materials or tools
        "M003": ("ear protection", "ear plug"),
        "M004": ("eye protection", "safety glasses", "goggles"),
        "M009": ("glove",),
        "M013": ("face shield",),
        "M016": ("dust mask", "face mask"),
        "M059": ("laboratory coat", "lab coat"),
    }
)
_SEVERAL: Final = MappingProxyType({"two": 2, "three": 3, "four": 4, "five": 5, "six": 6})
WEAR: Final = "To wear, one for each who works"


def is_worn(code: str, name: str) -> bool:
    """Return whether a material or a tool of this name is what a sign asks to wear.

    Examples
    --------
    >>> is_worn("M009", "disposable gloves"), is_worn("M016", "mask of black card")
    (True, False)
    """
    return any(word in name.casefold() for word in _NAMES.get(code, ()))


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
    'Protective gloves (M009): 18 pairs, listed below'
    >>> to_wear("M009", 30, listed=18, whole=False)
    'Protective gloves (M009): 30 pairs, 18 of them listed below'
    """
    if who:
        many = f"for {listing(list(who))}"
    elif listed and (whole or students is None or listed >= students):
        many = f"{_pairs(code, listed)}, listed below"
    elif students is None:
        many = "one each"
    else:
        many = _pairs(code, students)
        many += f", {listed} of them listed below" if listed else ""
    return f"{WORN[code]} ({code}): {many}"


def _pairs(code: str, number: int) -> str:
    return count(number, "pair") if code == "M009" else str(number)


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
        return f"{name}: up{NBSP}to{NBSP}{at_once}"
    return f"{capital(rest)}: up{NBSP}to{NBSP}{several * at_once}, {first.casefold()} each time"
