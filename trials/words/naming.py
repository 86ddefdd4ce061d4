"""What a version of a variable is called in a sentence, so that every page says it alike."""

from __future__ import annotations

from trials.words.numbers import with_unit


def version_name(level: str, unit: str = "", variable: str = "") -> str:
    """Return a version as a sentence names it: with its unit, or a bare number with its variable.

    A unit of "1" is a plain count and isn't printed.

    Examples
    --------
    >>> version_name("40", "min"), version_name("2", "", "coating passes"), version_name("oven")
    ('40\\xa0min', 'coating passes 2', 'oven')
    """
    if unit and unit != "1":
        return with_unit(level, unit)
    try:
        float(level.replace(",", "."))
    except ValueError:
        return level
    return f"{variable} {level}" if variable else level
