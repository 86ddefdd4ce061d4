"""Do the items that failed share a recipe?

Failures are tested one factor at a time in ``failures``, which hides that all of them may have had
the same levels of several factors. Here those levels are looked for: the corner of the recipes that
holds all failed items, or all but one where there are at least five. A corner shows the more, the
less likely it is that so many of the failed items lie among so few of those made (the upper tail of
the hypergeometric distribution: N. L. Johnson, A. W. Kemp and S. Kotz, 2005, Univariate Discrete
Distributions, section 6.2).

That corner was picked after looking, so its own tail says too much. It is held against the plan's
own shuffle instead: failed items stay where they are, the layout moves, and every layout shows its
own tightest corner (the idea of a scan statistic: M. Kulldorff, 1997, Communications in Statistics
26, 1481-1496). If no factor did anything to what fails, every layout of the set is as likely as the
plan's, so the p is exact, groups and all.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Final

import numpy as np

from trials.analysis.findings import FailedAlike
from trials.analysis.permutation import sampled
from trials.analysis.plan_layouts import PlanLayouts
from trials.model.layout import Codes, Floats
from trials.record.values import ItemValue

FEWEST: Final = 2  # failed items, and factors that they share
ONE_APART: Final = range(5, 31)  # so many failed items, and one of them may lie elsewhere
TIE: Final = 1e-9  # relative: far above rounding


def failed_alike(layouts: PlanLayouts, values: Mapping[str, ItemValue]) -> FailedAlike | None:
    """Return the levels of two factors or more that all failed items share, or all but one.

    Parameters
    ----------
    layouts : of the plan.
    values : what is known of each item; those lost, set aside or not measured don't count as made.

    Returns
    -------
    None where fewer than two failed or all did, and where what they share is less than two factors.
    ``p`` is None where the plan could have been no other, or is not shuffled.
    """
    plan = layouts.plan
    status = [values[row.item].status if row.item in values else "" for row in plan.rows]
    made = np.flatnonzero([one in ("measured", "at least", "failed") for one in status])
    failed = np.flatnonzero([status[row] == "failed" for row in made])
    if not FEWEST <= len(failed) < len(made) or len(plan.factors) < FEWEST:
        return None
    here = {name: codes[None, made] for name, codes in layouts.own.items()}
    best = min(_corners(here, failed), key=lambda corner: float(corner.tail[0]))
    shared = [factor for factor in plan.factors if best.shared[factor.name][0]]
    if len(shared) < FEWEST:
        return None
    return FailedAlike(
        levels={f.name: f.levels[int(best.level[f.name][0])] for f in shared},
        made=int(best.made[0]),
        failed=int(best.failed[0]),
        of_made=len(made),
        of_failed=len(failed),
        p=_p(layouts, made, failed, float(best.tail[0])),
    )


class _Corner:
    """In each of some layouts, the levels that some failed items share; arrays (m,).

    ``made`` and ``failed``: how many items lie there; ``tail``: the chance of so many failed ones.
    """

    def __init__(self, codes: Mapping[str, Codes], failed: Codes, own: Codes) -> None:
        self.level = {name: one[:, own[0]] for name, one in codes.items()}
        self.shared = {
            name: (one[:, own] == self.level[name][:, None]).all(axis=1)
            for name, one in codes.items()
        }
        inside = np.ones(next(iter(codes.values())).shape, dtype=np.bool_)
        for name, one in codes.items():
            inside &= ~self.shared[name][:, None] | (one == self.level[name][:, None])
        self.made = inside.sum(axis=1)
        self.failed = inside[:, failed].sum(axis=1)
        self.tail = _tails(len(inside.T), len(failed))[self.made, self.failed]


def _corners(codes: Mapping[str, Codes], failed: Codes) -> Iterator[_Corner]:
    """Yield the corner of all failed items, and those of all but one where these are looked at."""
    yield _Corner(codes, failed, failed)
    if len(failed) in ONE_APART:
        for place in range(len(failed)):
            yield _Corner(codes, failed, np.delete(failed, place))


@cache
def _tails(items: int, failed: int) -> Floats:
    """Return the chance that at least x of n items failed, if ``failed`` of ``items`` did: [n, x].

    Examples
    --------
    >>> tails = _tails(47, 3)
    >>> round(float(tails[8, 3]), 6), round(float(tails[47, 3]), 6)  # 56 of 16215 ways
    (0.003454, 1.0)
    """
    from scipy.stats import hypergeom

    n, x = np.arange(items + 1)[:, None], np.arange(failed + 1)[None, :]
    out: Floats = np.asarray(hypergeom.sf(x - 1, items, failed, n), np.float64)
    return out


def _p(layouts: PlanLayouts, made: Codes, failed: Codes, tail: float) -> float | None:
    """Return in which share of the plan's layouts the tightest corner shows as much."""
    if not layouts.resamples or not layouts.plan.by_lot:
        return None
    drawn = {name: codes[:, made] for name, codes in layouts.drawn.items()}
    tightest = np.min([corner.tail for corner in _corners(drawn, failed)], axis=0)
    return sampled(int((tightest <= tail * (1 + TIE)).sum()), layouts.resamples).p
