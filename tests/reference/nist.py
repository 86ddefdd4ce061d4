"""The eleven one-way sets with certified values: NIST Statistical Reference Datasets (StRD), ANOVA.

Source: National Institute of Standards and Technology, Statistical Reference Datasets, Analysis of
Variance, https://www.itl.nist.gov/div898/strd/anova/anova.html (public domain), as files that
scipy installs with its own tests. SmLs07 to SmLs09 carry thirteen constant leading digits: a
program that turns the numbers into floats before it centres them has almost no digits left.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal, localcontext
from importlib.resources import files

NAMES = ("SiRstv", "AtmWtAg", *(f"SmLs0{number}" for number in range(1, 10)))
MOST_DIGITS = 15.0


@dataclass(frozen=True)
class Certified:
    """One set: rows as printed, and what NIST certifies (15 digits)."""

    name: str
    levels: tuple[str, ...]
    values: tuple[str, ...]
    between_df: int
    within_df: int
    f: Decimal
    residual_sd: Decimal

    def table(self) -> str:
        """Return the rows as the text of a CSV."""
        rows = zip(self.levels, self.values, strict=True)
        return "level,y\n" + "".join(f"{level},{value}\n" for level, value in rows)


def read(name: str) -> Certified:
    """Read one set from scipy's files."""
    text = files("scipy.stats.tests.data.nist_anova").joinpath(f"{name}.dat").read_text("ascii")
    head, _, data = text.partition("Certified Values:")[2].partition("Data:")
    between = re.search(r"^Between .*?(\d+)\s+(\S+)\s+(\S+)\s+(\S+)\s*$", head, re.MULTILINE)
    within = re.search(r"^Within .*?(\d+)\s+(\S+)\s+(\S+)\s*$", head, re.MULTILINE)
    spread = re.search(r"Standard Deviation\s+(\S+)", head)
    assert between is not None
    assert within is not None
    assert spread is not None
    rows = [line.split() for line in data.splitlines()[1:] if line.strip()]
    levels, values = zip(*rows, strict=True)
    assert len(values) == int(between[1]) + int(within[1]) + 1
    return Certified(
        name=name,
        levels=levels,
        values=values,
        between_df=int(between[1]),
        within_df=int(within[1]),
        f=Decimal(between[4]),
        residual_sd=Decimal(spread[1]),
    )


def correct_digits(found: float | None, certified: Decimal) -> float:
    """Return the log relative error, at most 15 as no more digits are certified."""
    if found is None:
        return 0.0
    with localcontext(prec=40):
        gap = abs(Decimal(found) - certified) / abs(certified)
        return float(min(Decimal(MOST_DIGITS), -gap.log10())) if gap else MOST_DIGITS
