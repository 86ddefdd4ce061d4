"""Does what is left over drift, and would the answer be another with the drift taken off?

Nothing that a treatment can change is ever taken off: only what was fixed by the plan (the orders
of making and measuring) or lies around the items (what the reducer declares as surroundings). The
time of day is looked at and never taken off, for a treatment may have taken longer.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from trials.analysis.data import Data, fitted
from trials.analysis.diagnostics import LEAST_DF, Leftovers
from trials.analysis.failed_worst import FailedWorst
from trials.analysis.influence import MOST_ROWS, Judged, moved_verdict
from trials.digest import finite_or_none
from trials.errors import AnalysisError
from trials.model.layout import Floats

MAKING, MEASURING, CLOCK = "making", "measuring", "clock"
COLUMN = "column:"  # before the name of a raw column


def drift(
    data: Data,
    left: Leftovers,
    verdicts: Mapping[str, Judged],
    worst: FailedWorst | None = None,
) -> dict[str, Any]:
    """Return for each order, time or condition how the leftovers go with it, ready for JSON.

    Keys of each: ``n``; Spearman's ``rho`` and its ``p`` (from 10 degrees of freedom on);
    ``taken_off``: whether it was put into the model beside the factors; ``moves``: the verdicts
    that this changes.
    """
    from scipy import stats

    if not np.ptp(left.residual) > 0:
        return {}
    out = {}
    for name, numbers in _beside(data).items():
        place = {item: row for row, item in reversed(list(enumerate(data.items)))}
        values = numbers[[place[item] for item in left.items]]
        known = np.isfinite(values)
        if known.sum() < 3 or not np.ptp(values[known]) > 0:
            continue
        rho, p = stats.spearmanr(values[known], left.residual[known])
        moves = None
        if name != CLOCK and known.all() and data.layout.n <= MOST_ROWS:
            moves = _moves(data, name, numbers, verdicts, worst)
        out[name] = {
            "n": int(known.sum()),
            "rho": finite_or_none(float(rho)),
            "p": finite_or_none(float(p)) if left.df >= LEAST_DF else None,
            "taken_off": moves is not None,
            "moves": moves or [],
        }
    return out


def _beside(data: Data) -> dict[str, Floats]:
    runs = {} if data.runs is None else {MAKING: np.array(data.runs, dtype=np.float64)}
    return runs | dict(data.beside)


def _moves(
    data: Data,
    name: str,
    numbers: Floats,
    verdicts: Mapping[str, Judged],
    worst: FailedWorst | None,
) -> list[dict[str, Any]] | None:
    """Return the verdicts that change with the numbers taken off; None where they can't be."""
    key = f"beside:{name}"
    layout = replace(data.layout, covariates={**data.layout.covariates, key: numbers})
    try:
        fit = fitted(replace(data, layout=layout), locate=False)
    except (AnalysisError, np.linalg.LinAlgError):
        return None
    if not any(test.hypothesis.term.name == key and test.hypothesis.df for test in fit.tests):
        return None
    found = ((f, moved_verdict(data, fit, f, v.verdict, worst)) for f, v in verdicts.items())
    return [{"factor": factor, **moved} for factor, moved in found if moved is not None]
