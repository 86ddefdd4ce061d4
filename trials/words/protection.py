"""What to lay out to be worn, by the signs of the cautions, and how many tools are in use."""

from __future__ import annotations

from collections.abc import Sequence
from types import MappingProxyType
from typing import Final

from trials.words.numbers import listing

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
WEAR: Final = "To wear, one for each who works"


def to_wear(code: str, students: int | None, who: Sequence[str] = ()) -> str:
    """Return what is laid out to be worn, and for how many; pairs of gloves are one.

    Parameters
    ----------
    students : how many there are; None: not said.
    who : the people who alone do what asks for it, where it isn't the class.

    Examples
    --------
    >>> to_wear("M004", 30), to_wear("M009", 30)
    ('Eye protection (M004): 30', 'Protective gloves (M009): 30 pairs')
    >>> to_wear("M004", None), to_wear("M009", 30, ["the adult"])
    ('Eye protection (M004): one each', 'Protective gloves (M009): for the adult')
    """
    if who:
        many = f"for {listing(list(who))}"
    elif students is None:
        many = "one each"
    else:
        many = f"{students} pairs" if code == "M009" else str(students)
    return f"{WORN[code]} ({code}): {many}"


def in_use(name: str, at_once: int) -> str:
    """Return a tool with how many are in use at once.

    Examples
    --------
    >>> in_use("Glass rod", 6)
    'Glass rod: up to 6'
    """
    return f"{name}: up to {at_once}"
