"""Trends over a quantity's actual values: how much each step on its scale changes the mean.

Sources: R. A. Fisher and F. Yates, Statistical Tables, table XXIII (orthogonal polynomials, equal
steps); for any values they come from the Gram-Schmidt process (J. Wishart and T. Metakides, 1953,
Biometrika 40, 361-369). Every level counts equally, however many items it has.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from trials.model.fit import Fit
from trials.model.hypotheses import pair_line, row_basis
from trials.model.inference import FTest, Line
from trials.model.layout import Floats
from trials.model.terms import Weights

HIGHEST = 2


@dataclass(frozen=True)
class Trend:
    """The coefficient of one power of a quantity, free of lower powers.

    ``line`` is the change of the mean for one unit of the quantity (one doubling on the log scale)
    for degree 1, and the coefficient of its square for degree 2; None where it can't be estimated.
    ``rest`` tests what the powers up to this one leave unexplained; None where nothing is left.
    ``at`` holds another factor at a level.
    """

    factor: str
    degree: int
    at: tuple[tuple[str, int], ...]
    line: Line | None
    rest: FTest | None
    notes: tuple[str, ...] = ()


def polynomials(values: ArrayLike, degree: int) -> Floats:
    """Return what turns means at some values into polynomial coefficients, (degree, k).

    Row d gives the coefficient of the value to the power d + 1 in the least-squares polynomial of
    that degree through the means, each mean counting once.

    Parameters
    ----------
    values : (k,), all different; k above ``degree``.

    Examples
    --------
    >>> polynomials([0, 1, 2, 3], 2).round(3).tolist()
    [[-0.3, -0.1, 0.1, 0.3], [0.25, -0.25, -0.25, 0.25]]
    """
    v = np.asarray(values, dtype=np.float64)
    centred = v - v.mean()
    scale = float(np.abs(centred).max())
    x = centred / scale
    lower = [np.ones_like(x)]
    out = []
    for power in range(1, degree + 1):
        column = x * lower[-1]
        for _ in range(2):
            for one in lower:
                column = column - one * float((one * column).sum()) / float((one * one).sum())
        lower.append(column)
        out.append(column / float((column * column).sum()) / scale**power)
    return np.array(out)


def step_values(fit: Fit, factor: str) -> Floats:
    """Return the numbers of a quantity's levels, in doublings where its scale is log, (levels,)."""
    layout = fit.design.layout
    values = layout.values(factor)
    log = layout.structure.factor(factor).scale == "log"
    return np.asarray(values / math.log(2.0) if log else values)


def factor_trends(
    fit: Fit, factor: str, at: tuple[tuple[str, int], ...] = (), weights: Weights = "equal"
) -> tuple[Trend, ...]:
    """Return the straight-line trend of a quantity and, from three levels on, its bend.

    A quantity that entered the model as a straight line has that one trend only. Nothing is
    returned for a factor with one level.
    """
    design = fit.design
    values = step_values(fit, factor)
    if len(values) < 2:
        return ()
    straight = design.layout.structure.factor(factor).trend
    highest = 1 if straight else min(HIGHEST, len(values) - 1)
    pairs = [
        pair_line(design, factor, level, 0, dict(at), weights=weights)
        for level in range(1, len(values))
    ]
    steps = [row for row, notes in pairs if row is not None and not notes]
    if len(steps) < len(pairs):
        note = "not_estimable" if any(row is None for row, _ in pairs) else "gaps"
        return tuple(
            Trend(factor, degree, at, None, None, (f"trend_{note}",))
            for degree in range(1, highest + 1)
        )
    above_first = np.array(steps)  # every level minus the first
    coefficients = polynomials(values, highest)
    return tuple(
        Trend(
            factor,
            degree,
            at,
            fit.inference.line(coefficients[degree - 1, 1:] @ above_first),
            None if straight else _rest(fit, above_first, values, degree),
        )
        for degree in range(1, highest + 1)
    )


def _rest(fit: Fit, above_first: Floats, values: Floats, degree: int) -> FTest | None:
    """Test all contrasts of the level means that no polynomial of this degree explains."""
    k = len(values)
    if degree >= k - 1:
        return None
    x = (values - values.mean()) / np.abs(values - values.mean()).max()
    powers = np.stack([x**power for power in range(degree + 1)], axis=1)
    Q, _ = np.linalg.qr(powers)
    left = row_basis(np.eye(k) - Q @ Q.T)[: k - 1 - degree]
    return fit.inference.test(left[:, 1:] @ above_first)
