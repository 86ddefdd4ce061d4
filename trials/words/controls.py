"""What a version, a question or an instruction sounds like: something to hold others against,
a comparison with the usual way, picking the best of several readings.

The lists of words are common practice, no source.
"""

from __future__ import annotations

import re

_BASELINE = re.compile(
    r"(?:no|none|nothing|without|untreated|unchanged|usual|normal|standard|control|plain|blank|"
    r"as usual|as before)\b",
    re.IGNORECASE,
)
_USUAL = re.compile(
    r"\b(?:as usual|usual|usually|normal|normally|standard|than (?:nothing|none|without|before)|"
    r"compared (?:with|to) (?:nothing|none|no)|the old way)\b",
    re.IGNORECASE,
)
_BEST = re.compile(
    r"\b(?:best|highest|largest|longest|greatest|farthest|furthest|maximum) "
    r"(?:one |value |reading |result |throw |try |number )?(?:of|out of) "
    r"(?:the |all )?(?:two|three|four|five|six|several|readings|throws|tries|\d+)\b",
    re.IGNORECASE,
)


def is_baseline(level: str) -> bool:
    """Return whether a version sounds like the one that the others are held against.

    Examples
    --------
    >>> [is_baseline(level) for level in ("none", "No food", "as usual", "noodles", "half")]
    [True, True, True, False, False]
    """
    return _BASELINE.match(level.strip()) is not None


def asks_for_the_usual(question: str) -> bool:
    """Return whether a question compares with the usual way, or with nothing at all.

    Examples
    --------
    >>> asks_for_the_usual("Is it better than the usual way?"), asks_for_the_usual("Which is best?")
    (True, False)
    """
    return _USUAL.search(question) is not None


def takes_the_best(text: str) -> bool:
    """Return whether an instruction says to write down the best of several readings.

    Examples
    --------
    >>> takes_the_best("Write down the longest of three throws."), takes_the_best("Throw it well.")
    (True, False)
    """
    return _BEST.search(text) is not None
