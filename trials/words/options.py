"""The options of an analysis in words: one list for the command line, study.toml and Python.

Kept apart from the values they set, so that a help page needs nothing heavy.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class OptionText:
    """One option as a person meets it.

    ``name`` is the key in study.toml and in Python; ``flag`` the word on the command line.
    """

    name: str
    flag: str
    help: str
    kind: Literal["text", "number", "whole", "switch"] = "text"
    metavar: str = "TEXT"
    repeats: bool = False


# What the columns of a table are: its two structures.
COLUMNS = (
    OptionText(
        "factors",
        "--factor",
        "column with the versions of something you changed",
        "text",
        "A",
        True,
    ),
    OptionText(
        "numbers",
        "--number",
        "column with a quantity you changed, taken as a straight-line trend",
        "text",
        "B",
        True,
    ),
    OptionText(
        "groups",
        "--group",
        "column that says which rows belong together; G1/G2 is G2 nested in G1",
        "text",
        "G",
        True,
    ),
    OptionText(
        "applied", "--applied", "factor A was applied to a whole GROUP", "text", "A=GROUP", True
    ),
)

# How the analysis is done: the fields of study.Options.
CHOICES = (
    OptionText(
        "response",
        "--response",
        "column with the measured value (else: the only one left over)",
        "text",
        "Y",
    ),
    OptionText(
        "item",
        "--item",
        "column that names the item; several rows with one name are its readings",
        "text",
        "COLUMN",
    ),
    OptionText("covariates", "--covariate", "measured quantity to adjust for", "text", "X", True),
    OptionText(
        "interactions",
        "--interactions",
        "highest number of factors in one interaction",
        "whole",
        "N",
    ),
    OptionText("compare", "--compare", "compare by 'difference' or by 'ratio'", "text", "WAY"),
    OptionText(
        "df",
        "--df",
        "small-sample method: 'strata', 'kenward-roger' or 'satterthwaite'; "
        "'auto' takes strata where the table is balanced, else kenward-roger",
        "text",
        "METHOD",
    ),
    OptionText("bounded", "--bounded", "keep variance estimates at zero or above", "switch"),
    OptionText("random", "--random", "group to treat as random, or 'all'", "text", "GROUP", True),
    OptionText("sums", "--sums", "type of sums of squares: III, II or I", "text", "TYPE"),
    OptionText(
        "control",
        "--control",
        "version that the others are compared with",
        "text",
        "B=LEVEL",
        True,
    ),
    OptionText(
        "worthwhile",
        "--worthwhile",
        "smallest difference (or ratio) that would change what you'd do",
        "number",
        "D",
    ),
    OptionText("confidence", "--confidence", "confidence of the intervals", "number", "C"),
    OptionText(
        "resamples",
        "--resamples",
        "shuffles for the permutation test; 0 for none",
        "whole",
        "N",
    ),
    OptionText("seed", "--seed", "seed of everything drawn by chance", "whole", "N"),
)


def option_help(name: str) -> str:
    """Return the help text of an analysis option.

    Examples
    --------
    >>> option_help("confidence")
    'confidence of the intervals'
    """
    return next(option.help for option in CHOICES if option.name == name)
