"""How often each term would come first if the study were done again."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from trials.analysis.sizes import mean_square_effect

Floats = NDArray[np.float64]


def rank_frequencies(
    effects: Mapping[str, Floats], covariance: Floats, resamples: int, rng: np.random.Generator
) -> dict[str, tuple[float, ...]]:
    """Return for each term how often it took rank 1, 2 ... in repeats of the study.

    The repeats are drawn from effects shrunken so that their mean square is the bias-corrected
    one, with the estimates' own error added; each repeat ranks the terms by their bias-corrected
    mean square. That is a frequency in imagined repeats and no probability of being the largest.

    Parameters
    ----------
    effects : for each term its effects (c,), one for each combination, adding up to 0.
    covariance : of all of them, in that order, (sum of c, sum of c).
    resamples : repeats to draw, 1 or more.

    Examples
    --------
    >>> effects = {"heat": np.array([2.0, -2.0]), "soak": np.array([0.1, -0.1])}
    >>> rank_frequencies(effects, 0.01 * np.eye(4), 100, np.random.default_rng(1))
    {'heat': (1.0, 0.0), 'soak': (0.0, 1.0)}
    """
    ends = np.cumsum([len(part) for part in effects.values()])
    places = [slice(end - len(part), end) for end, part in zip(ends, effects.values(), strict=True)]
    centre = np.concatenate(
        [
            _shrunken(part, covariance[place, place])
            for part, place in zip(effects.values(), places, strict=True)
        ]
    )
    value, vector = np.linalg.eigh(covariance)
    root = vector * np.sqrt(np.clip(value, 0.0, None))
    drawn = centre + rng.standard_normal((resamples, len(value))) @ root.T
    squares = np.stack(
        [
            np.mean(drawn[:, place] ** 2, axis=1)
            - np.trace(covariance[place, place]) / (place.stop - place.start)
            for place in places
        ],
        axis=1,
    )
    rank = np.argsort(np.argsort(-squares, axis=1, kind="stable"), axis=1)
    return {
        term: tuple(float(np.mean(rank[:, column] == place)) for place in range(len(places)))
        for column, term in enumerate(effects)
    }


def _shrunken(effects: Floats, covariance: Floats) -> Floats:
    raw = float(np.mean(effects**2))
    kept = max(0.0, mean_square_effect(effects, covariance))
    return effects * math.sqrt(kept / raw) if raw > 0 else effects
