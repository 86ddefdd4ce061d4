"""An interval held against a margin: the rule that verdicts, and their chances before, rest on."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Truths = NDArray[np.bool_]


def is_beyond(low: ArrayLike, high: ArrayLike, margin: float) -> Truths:
    """Return whether intervals lie wholly beyond +-``margin``, on one side.

    Examples
    --------
    >>> is_beyond([1.2, -3.0, 0.9], [4.8, -1.5, 2.0], 1.0).tolist()
    [True, True, False]
    """
    return np.asarray((np.asarray(low) > margin) | (np.asarray(high) < -margin))


def is_inside(low: ArrayLike, high: ArrayLike, margin: float) -> Truths:
    """Return whether intervals lie wholly inside +-``margin``.

    Examples
    --------
    >>> is_inside([-0.5, 0.2, -1.0], [0.5, 0.9, 0.3], 1.0).tolist()
    [True, True, False]
    """
    return np.asarray((np.asarray(low) > -margin) & (np.asarray(high) < margin))
