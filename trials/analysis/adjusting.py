"""What to be told of quantities that an answer is adjusted for.

Adjusting is fair only for what the treatments can't have changed (D. R. Cox, 1958, Planning of
Experiments, chapter 4: concomitant observations must be unaffected by the treatments). A table
can't show when something was measured, so that is always said; and where the quantity differs
between the levels of a factor, that it does.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from scipy.special import fdtrc

from trials.model import Layout
from trials.model.layout import Codes, Floats

CLEAR = 0.01  # p below which a quantity is said to differ between levels
_SAME = 1e-12  # of the sum of squares: nothing but rounding is left within the levels


def covariate_notes(layout: Layout) -> tuple[str, ...]:
    """Return "adjusted_for:X" for each covariate, and what it has to do with each factor.

    "settled_by:X:F": it has one value for each level of F. "differs_with:X:F": it differs between
    the levels of F by more than chance, by the F test of one classification over the rows.
    """
    return tuple(_notes(layout))


def _notes(layout: Layout) -> Iterator[str]:
    for name, numbers in layout.covariates.items():
        yield f"adjusted_for:{name}"
        for factor, coded in layout.factors.items():
            between, within = sums_of_squares(numbers, coded.codes)
            if between <= 0:
                continue
            levels = len(np.unique(coded.codes))
            df = len(numbers) - levels
            if within <= _SAME * (between + within):
                yield f"settled_by:{name}:{factor}"
            elif df > 0 and fdtrc(levels - 1, df, (between / (levels - 1)) / (within / df)) < CLEAR:
                yield f"differs_with:{name}:{factor}"


def sums_of_squares(numbers: Floats, level: Codes) -> tuple[float, float]:
    """Return the sums of squares of ``numbers`` (n,) between and within the levels (n,).

    Examples
    --------
    >>> sums_of_squares(np.array([1.0, 3.0, 5.0, 7.0]), np.array([0, 0, 1, 1]))
    (16.0, 4.0)
    """
    counts = np.bincount(level)
    means = np.bincount(level, weights=numbers) / np.maximum(counts, 1)
    fitted = means[level]
    between = float(((fitted - numbers.mean()) ** 2).sum())
    return between, float(((numbers - fitted) ** 2).sum())
