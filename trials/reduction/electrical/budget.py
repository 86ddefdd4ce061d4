"""Uncertainty budgets of quantities that are products of powers, after JCGM 100:2008.

Relative standard uncertainties of independent inputs add as squares, each times its exponent
(5.1.6). Effective degrees of freedom follow Welch and Satterthwaite (G.4.1), and the coverage
factor is that of Student's distribution (G.3, table G.2).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf, isinf, sqrt

FLAT = sqrt(3.0)  # limits within which every value is as likely (JCGM 100:2008, 4.3.7)


@dataclass(frozen=True)
class Source:
    """One source of uncertainty: relative standard uncertainty and degrees of freedom.

    ``kind`` is A (from repeats) or B (from what is known), as in JCGM 100:2008, 3.3.4.
    """

    name: str
    relative: float
    df: float = inf
    kind: str = "B"


@dataclass(frozen=True)
class Line:
    """One line of a budget: a source and what it adds to the relative uncertainty."""

    source: Source
    exponent: float

    @property
    def part(self) -> float:
        """Relative standard uncertainty that this source alone would give."""
        return abs(self.exponent) * self.source.relative


@dataclass(frozen=True)
class Budget:
    """The lines of one quantity and what they come to."""

    lines: tuple[Line, ...]

    @property
    def relative(self) -> float:
        """Combined relative standard uncertainty."""
        return sqrt(sum(line.part**2 for line in self.lines))

    @property
    def df(self) -> float:
        """Effective degrees of freedom (Welch-Satterthwaite)."""
        below = sum(line.part**4 / line.source.df for line in self.lines)
        return self.relative**4 / below if below > 0 else inf

    @property
    def coverage(self) -> float:
        """Coverage factor of a 95 % interval."""
        return coverage_factor(self.df)


def budget(sources: Mapping[str, Source], exponents: Mapping[str, float]) -> Budget:
    """Return the budget of a product of powers of what the sources are about.

    Examples
    --------
    >>> parts = {"V": Source("voltmeter", 0.003), "I": Source("ammeter", 0.004)}
    >>> round(budget(parts, {"V": 1, "I": 1}).relative, 6)
    0.005
    """
    return Budget(
        tuple(Line(sources[name], power) for name, power in exponents.items() if name in sources)
    )


def coverage_factor(df: float, level: float = 0.95) -> float:
    """Return how many standard uncertainties wide a two-sided interval is to each side.

    Examples
    --------
    >>> round(coverage_factor(10), 2), round(coverage_factor(inf), 2)
    (2.23, 1.96)
    """
    from scipy.special import ndtri, stdtrit

    tail = 0.5 + level / 2
    return float(ndtri(tail) if isinf(df) else stdtrit(df, tail))
