"""Chances of the three verdicts on a factor, by the verdict's own rule.

Level means are drawn as normal, the yardsticks of the intervals as chi-square over their degrees of
freedom, and the rule is applied to each draw: *mattered* where a simultaneous interval lies wholly
beyond the margin; *no practical difference* where all lie inside it, over all items and at each
level of every factor with which the model has an interaction; else *not settled*.

The yardsticks of one draw stand at the same place of their distributions. For the pairs of one
family that is right, since they share an error; for families judged on different units it is an
approximation that makes *no practical difference* a little too likely.

``analysis.verdicts`` works out the same chances by integration. Both stay: an integral serves one
error and equal numbers only, which is what "how many more would settle it" is asked for, and there
its lack of noise is what the search for the smallest number needs; a plan has several errors,
unequal numbers and correlated families, which only drawing can follow. A test holds each to the
other where both apply.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np
import numpy.typing as npt

from trials.model import Precision, tukey
from trials.model.hypotheses import Hypothesis, pair_line
from trials.model.margins import Truths, is_beyond, is_inside
from trials.randomness import stream

Floats = npt.NDArray[np.float64]

DRAWS = 4_000


@dataclass(frozen=True)
class Margin:
    """What a verdict on a factor is judged by.

    ``size``: smallest difference that would matter, on the scale of the model.
    """

    size: float
    confidence: float = 0.95


@dataclass(frozen=True)
class Gap:
    """A difference of two levels: its row (k,), its SE and the degrees of freedom of that.

    ``pair`` holds the two levels, ``at`` the level of another factor that it is within.
    """

    row: Floats
    se: float
    df: float
    pair: tuple[int, int]
    at: Mapping[str, int]


@dataclass(frozen=True)
class Family:
    """All differences that a verdict on a factor looks at.

    The first ``main`` of the ``gaps`` are over all items, the others within levels of other
    factors. ``whole``: the plan shows all of these. ``levels``: of the factor.
    """

    gaps: tuple[Gap, ...]
    main: int
    whole: bool
    levels: int

    @property
    def rows(self) -> Floats:
        """The rows of all gaps, shape (m, k)."""
        return np.array([gap.row for gap in self.gaps])

    def reach(self, yardsticks: Sequence[Floats], confidence: float) -> Floats:
        """Return how far the interval of each gap reaches out to either side, shape (draws, m).

        ``yardsticks``: estimated over true SE of each gap, (draws,) each.
        """
        return np.stack(
            [
                tukey.critical(confidence, self.levels, gap.df) * gap.se * yardstick
                for gap, yardstick in zip(self.gaps, yardsticks, strict=True)
            ],
            axis=1,
        )

    def verdicts(self, estimates: Floats, reach: Floats, size: float) -> tuple[Truths, Truths]:
        """Return in which draws the factor mattered, and in which it made no difference.

        Parameters
        ----------
        estimates, reach : of each gap, shape (draws, m).
        size : the margin, on the scale of the model.
        """
        low, high = estimates - reach, estimates + reach
        some = slice(0, self.main)
        beyond = is_beyond(low[:, some], high[:, some], size).any(axis=1)
        inside = is_inside(low, high, size).all(axis=1) & self.whole
        return np.asarray(beyond), np.asarray(inside)


@dataclass(frozen=True)
class Prospect:
    """What many draws of a layout come to, for one factor, whatever is true.

    ``noise``: by how much each draw is off; ``reach``: of its intervals; (draws, m).
    """

    family: Family
    noise: Floats
    reach: Floats

    def chances(self, truth: Floats, size: float) -> tuple[float, float]:
        """Return the chances of "mattered" and of "made no practical difference".

        Parameters
        ----------
        truth : the true coefficients of the model, shape (k,).
        size : the margin, on the scale of the model.
        """
        estimates = self.family.rows @ truth + self.noise
        beyond, inside = self.family.verdicts(estimates, self.reach, size)
        return float(beyond.mean()), float(inside.mean())


def prospect_of(known: Precision, factor: str, confidence: float) -> Prospect | None:
    """Return the draws of a layout for one factor; None where an interval of it doesn't exist."""
    family = family_of(known, factor)
    if family is None:
        return None
    noise = normal_draws(known.inference.cov(family.rows))
    reach = family.reach([yardstick(gap.df) for gap in family.gaps], confidence)
    return Prospect(family, noise, reach)


def verdict_chances(
    known: Precision, factor: str, truth: Floats, margin: Margin
) -> tuple[float, float] | None:
    """Return the chances of "mattered" and of "made no practical difference".

    Parameters
    ----------
    truth : the true coefficients of the model, shape (k,).

    Returns
    -------
    Two chances, good to about 0.01; None where some interval of the factor would not exist.
    """
    prospect = prospect_of(known, factor, margin.confidence)
    return None if prospect is None else prospect.chances(truth, margin.size)


def family_of(known: Precision, factor: str) -> Family | None:
    """Return all differences that a verdict on a factor looks at; None where one has no interval.

    Of a combination that is never made nobody can say that it makes no difference.
    """
    main = _averages(known, factor)
    simple = _simple(known, factor)
    if main is None or simple is None:
        return None
    inner, whole = simple
    levels = len(known.design.layout.factors[factor].levels)
    return Family((*main, *inner), len(main), whole, levels)


def _averages(known: Precision, factor: str) -> list[Gap] | None:
    """Return the differences of levels over all items; None where one has no interval."""
    levels = len(known.design.layout.factors[factor].levels)
    pairs = list(combinations(range(levels), 2))
    rows = [pair_line(known.design, factor, a, b)[0] for a, b in pairs]
    gaps = [
        None if row is None else _gap(known, row, pair, {})
        for row, pair in zip(rows, pairs, strict=True)
    ]
    found = [gap for gap in gaps if gap is not None]
    return found if len(found) == len(pairs) else None


def _simple(known: Precision, factor: str) -> tuple[list[Gap], bool] | None:
    """Return the differences within each level of the factors it interacts with; None where one
    has no interval.

    And whether the plan shows them all: of a combination that is never made nobody can say that it
    makes no difference.
    """
    levels = len(known.design.layout.factors[factor].levels)
    found = []
    whole = True
    for at in _contexts(known, factor):
        for a, b in combinations(range(levels), 2):
            row, _ = pair_line(known.design, factor, a, b, at)
            if row is None:
                whole = False
                continue
            gap = _gap(known, row, (a, b), at)
            if gap is None:
                return None
            found.append(gap)
    return found, whole


def _contexts(known: Precision, factor: str) -> Iterator[dict[str, int]]:
    for other in crossing(known.tests, factor):
        for level in range(len(known.design.layout.factors[other].levels)):
            yield {other: level}


def crossing(tests: Sequence[Hypothesis], factor: str) -> tuple[str, ...]:
    """Return the factors within whose levels a verdict must hold: those it is tested to cross."""
    pairs = [test.term.factors for test in tests if len(test.term.factors) == 2 and test.df]
    return tuple(other for pair in pairs if factor in pair for other in pair if other != factor)


def _gap(known: Precision, row: Floats, pair: tuple[int, int], at: Mapping[str, int]) -> Gap | None:
    line = known.inference.line(row)
    if line.se is None or line.df is None or line.df <= 0:
        return None
    df = float(f"{line.df:.3g}")  # few digits, so that much is found twice
    return Gap(row, line.se, df, pair, at)


def normal_draws(spread: Floats) -> Floats:
    """Return draws around zero with a covariance of shape (m, m): shape (DRAWS, m)."""
    values, vectors = np.linalg.eigh((spread + spread.T) / 2)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    drawn: Floats = _normals(len(values)) @ root.T
    return drawn


@lru_cache(maxsize=16)
def _normals(m: int) -> Floats:
    """Return normal values, shape (DRAWS, m), the same for every plan, so that plans compare."""
    out: Floats = stream(0, "verdict chances").standard_normal((DRAWS, m))
    out.setflags(write=False)
    return out


@lru_cache(maxsize=512)
def yardstick(df: float) -> Floats:
    """Return the estimated over the true SE in each draw, shape (DRAWS,).

    Worked out at 301 normal scores and read off between them: good to 4 digits, in a tenth of the
    time.
    """
    from scipy.special import chdtri, ndtr

    nodes = np.linspace(-6.0, 6.0, 301)
    out: Floats = np.interp(_scores(), nodes, np.sqrt(chdtri(df, ndtr(-nodes)) / df))
    out.setflags(write=False)
    return out


@lru_cache(maxsize=1)
def _scores() -> Floats:
    """Return where each draw's yardsticks stand in their distributions, as normal scores."""
    from scipy.special import ndtri

    out: Floats = -ndtri(stream(0, "verdict yardsticks").random(DRAWS))
    return out
