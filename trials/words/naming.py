"""What a version of a variable is called in a sentence, so that every page says it alike."""

from __future__ import annotations

from trials.words.numbers import plural, with_unit

_NO_SINGULAR = frozenset({"series", "species", "lens"})


def version_name(level: str, unit: str = "", variable: str = "") -> str:
    """Return a version as a sentence names it: with its unit, or a bare number with its variable.

    A number of a variable whose name is a plural is a count of these things. A unit of "1" isn't
    printed.

    Examples
    --------
    >>> version_name("40", "min"), version_name("2", "", "coating passes"), version_name("oven")
    ('40\\xa0min', '2\\xa0coating passes', 'oven')
    >>> version_name("1", "", "coating passes"), version_name("4", "", "pH")
    ('1\\xa0coating pass', 'pH 4')
    """
    if unit and unit != "1":
        return with_unit(level, unit)
    try:
        float(level.replace(",", "."))
    except ValueError:
        return level
    if not variable:
        return level
    start, _, last = variable.rpartition(" ")
    single = _singular(last)
    if single is None:
        return f"{variable} {level}"
    things = single if level == "1" else last
    return with_unit(level, f"{start} {things}".strip())


def _singular(word: str) -> str | None:
    """Return what a plural is the plural of, None where it is none."""
    if word in _NO_SINGULAR or not word.endswith("s"):
        return None
    guesses = [word[:-3] + "y" if word.endswith("ies") else "", word[:-2], word[:-1]]
    return next((one for one in guesses if len(one) > 1 and plural(one) == word), None)
