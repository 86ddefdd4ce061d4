"""Chances of the three verdicts on a factor, by the verdict's own rule.

Level means are drawn as normal, the yardstick of each interval as a chi-square over its degrees of
freedom, and the rule is applied to each draw: *mattered* where a simultaneous interval of two
levels lies wholly beyond the margin; *no practical difference* where all lie inside it, over all
items and at each level of every factor with which the model has an interaction; else *not settled*.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np
import numpy.typing as npt

from trials.model import Precision
from trials.model.hypotheses import pair_line
from trials.model.terms import partners
from trials.randomness import stream

Floats = npt.NDArray[np.float64]

DRAWS = 4_000


@dataclass(frozen=True)
class _Lines:
    """Differences of two levels: rows (m, k), SE (m,), reach in SE (m,), df (m,)."""

    rows: Floats
    se: Floats
    reach: Floats
    df: Floats
    main: npt.NDArray[np.bool_]


def verdict_chances(
    known: Precision, factor: str, truth: Floats, margin: float, confidence: float
) -> tuple[float, float] | None:
    """Return the chances of "mattered" and of "made no practical difference".

    Parameters
    ----------
    truth : the true coefficients of the model, shape (k,).
    margin : smallest difference that would matter, on the scale of the model.

    Returns
    -------
    Two chances, good to about 0.01; None where some interval of the factor would not exist.
    """
    lines = _lines(known, factor, confidence)
    if lines is None:
        return None
    rng = stream(0, "verdict chances")  # the same for every plan, so that plans can be compared
    spread = known.inference.cov(lines.rows)
    values, vectors = np.linalg.eigh((spread + spread.T) / 2)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    estimates = lines.rows @ truth + rng.standard_normal((DRAWS, len(values))) @ root.T
    half = lines.reach * lines.se * _yardsticks(lines.df, rng)
    low, high = estimates - half, estimates + half
    beyond = ((low > margin) | (high < -margin))[:, lines.main].any(axis=1)
    inside = ((low > -margin) & (high < margin)).all(axis=1)
    return float(beyond.mean()), float(inside.mean())


def _lines(known: Precision, factor: str, confidence: float) -> _Lines | None:
    design = known.design
    levels = len(design.layout.factors[factor].levels)
    places: list[dict[str, int]] = [{}]
    for other in partners(design, (factor,)):
        places += [{other: level} for level in range(len(design.layout.factors[other].levels))]
    rows, errors, reach, dfs, main = [], [], [], [], []
    for at in places:
        for a, b in combinations(range(levels), 2):
            row, _ = pair_line(design, factor, a, b, at)
            if row is None:
                if at:
                    continue
                return None
            line = known.inference.line(row)
            if line.se is None or line.df is None or line.df <= 0:
                return None
            rows.append(row)
            errors.append(line.se)
            dfs.append(line.df)
            reach.append(tukey_reach(confidence, levels, round(line.df, 2)))
            main.append(not at)
    return _Lines(np.array(rows), np.array(errors), np.array(reach), np.array(dfs), np.array(main))


def _yardsticks(df: Floats, rng: np.random.Generator) -> Floats:
    """Return estimated over true SE, shape (DRAWS, m); lines of the same df share one yardstick."""
    kinds, which = np.unique(np.round(df, 6), return_inverse=True)
    drawn = np.stack([np.sqrt(rng.chisquare(d, DRAWS) / d) for d in kinds], axis=1)
    out: Floats = drawn[:, which]
    return out


@lru_cache(maxsize=1024)
def tukey_reach(confidence: float, levels: int, df: float) -> float:
    """Return how many standard errors of a difference a Tukey interval reaches out.

    Examples
    --------
    >>> round(tukey_reach(0.95, 3, 27.0), 4), round(tukey_reach(0.95, 2, 10.0), 4)
    (2.4794, 2.2281)
    """
    from scipy.stats import studentized_range, t

    if levels == 2:
        return float(t.isf((1 - confidence) / 2, df))
    return float(studentized_range.isf(1 - confidence, levels, df)) / math.sqrt(2)
