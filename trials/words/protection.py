"""What to lay out to be worn, by the signs of the cautions, and how many tools are in use."""

from __future__ import annotations

from collections.abc import Sequence
from types import MappingProxyType
from typing import Final

from trials.words.language import marked, say
from trials.words.numbers import listing

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
WEAR: Final = marked("To wear, one for each who works")


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
        many = say("for {who}", who=listing(list(who)))
    elif students is None:
        many = say("one each")
    else:
        many = say("{n} pairs", n=students) if code == "M009" else str(students)
    return f"{say(WORN[code])} ({code}): {many}"


def in_use(name: str, at_once: int) -> str:
    """Return a tool with how many are in use at once.

    Examples
    --------
    >>> in_use("Glass rod", 6)
    'Glass rod: up to 6'
    """
    return say("{name}: up to {n}", name=name, n=at_once)
