"""What versions and the like are called in a sentence, so that every page says it alike."""

from __future__ import annotations

from trials.words.language import SPANISH, language
from trials.words.numbers import plural, with_unit

_NO_SINGULAR = frozenset({"series", "species", "lens"})
_ENDS = (("ies", "y"), ("ones", "ón"), ("ces", "z"), ("es", ""))


_SPREADS = {
    "practice run": "measured in a practice run",
    "own guess": "the makers' own guess",
    "shipped guess": "a guess that came with the program",
}


def spread_name(source: str | None) -> str:
    """Return where it is from how far things made alike differ; None: nothing is said of it.

    Examples
    --------
    >>> spread_name("shipped guess"), spread_name(None)
    ('a guess that came with the program', 'not said')
    """
    return "not said" if source is None else _SPREADS[source]


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
    >>> from trials.words.language import speaking
    >>> with speaking("es"):
    ...     [version_name(level, "", "capas de pasta") for level in "12"]
    ['1\\xa0capa de pasta', '2\\xa0capas de pasta']
    """
    if unit and unit != "1":
        return with_unit(level, unit)
    try:
        float(level.replace(",", "."))
    except ValueError:
        return level
    if not variable:
        return level
    words = variable.split(" ")
    noun = 0 if language() == SPANISH else -1  # "capas de pasta", "coating passes"
    single = _singular(words[noun])
    if single is None:
        return f"{variable} {level}"
    if level == "1":
        words[noun] = single
    return with_unit(level, " ".join(words))


def member_name(of: str, name: str) -> str:
    """Return what a member of a group is called in a sentence, with what it is one of said once.

    Examples
    --------
    >>> member_name("team", "rowan"), member_name("team", "Team 2")
    ('team rowan', 'Team 2')
    """
    return name if name.casefold().startswith(f"{of.casefold()} ") else f"{of} {name}"


def _singular(word: str) -> str | None:
    """Return what a plural is the plural of, None where it is none."""
    if word in _NO_SINGULAR or not word.endswith("s"):
        return None
    guesses = (*(word[: -len(end)] + one for end, one in _ENDS if word.endswith(end)), word[:-1])
    return next((one for one in guesses if len(one) > 1 and plural(one) == word), None)
