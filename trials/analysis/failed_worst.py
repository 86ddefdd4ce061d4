"""Would the answer change if failed items counted as the worst of all?

Comparing only the items that worked can flatter a level whose items mostly failed. So every item
that was made is ranked, the failed ones tied below all others, and the ranks are tested by the
plan's own shuffle, as the values were (for ranks of failures tied lowest see J. M. Lachin, 1999,
Controlled Clinical Trials 20, 408-422, "worst-rank score analysis").
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from trials.analysis.data import Data
from trials.analysis.plan_layouts import PlanLayouts
from trials.analysis.shuffling import replay_shuffle
from trials.analysis.verdicts import Judgement
from trials.model import Layout
from trials.model.layout import Floats


@dataclass(frozen=True)
class FailedWorst:
    """What failures say of each factor, beside the comparison of the items that worked.

    ``p``: of the rank test, None where there is none; ``ranks``: mean ranks by level, a higher one
    is better, whichever way the response is better. ``working``: p of the same shuffle among the
    working items. ``failing``: p of the exact test of failures; ``shares``: share failed by level.
    """

    p: Mapping[str, float | None]
    ranks: Mapping[str, Mapping[str, float]]
    working: Mapping[str, float | None] = field(default_factory=dict)
    failing: Mapping[str, float | None] = field(default_factory=dict)
    shares: Mapping[str, Mapping[str, float]] = field(default_factory=dict)

    def contradicts(self, factor: str, judgement: Judgement, data: Data) -> bool:
        """Return whether the verdict among working items doesn't stand with failures counted.

        *Mattered*: the level that was better is no longer ahead in the ranks, or more of it failed
        than chance would have, or the shuffle no longer tells it from chance although it did so
        among the working items. *No practical difference*: the ranks differ, or failures fell on
        the levels, by more than chance would.
        """
        level = 1 - data.options.confidence
        ranked, failing = self._is_clear(self.p, factor, level), self.failing.get(factor)
        uneven = failing is not None and failing < level
        if judgement.verdict == "mattered":
            better, worse = _better_first(factor, judgement, data)
            ranks, shares = self.ranks[factor], self.shares.get(factor, {})
            if not ranks[better] > ranks[worse]:
                return True
            if uneven and shares.get(better, 0.0) > shares.get(worse, 0.0):
                return True
            return ranked is False and self._is_clear(self.working, factor, level) is True
        return judgement.verdict == "made no practical difference" and (ranked is True or uneven)

    @staticmethod
    def _is_clear(tests: Mapping[str, float | None], factor: str, level: float) -> bool | None:
        """Return whether a test tells a factor from chance; None where there is no test."""
        p = tests.get(factor)
        return None if p is None else p < level


def _better_first(factor: str, judgement: Judgement, data: Data) -> tuple[str, str]:
    """Return the two levels of a judgement, the one that was better among working items first."""
    pair = judgement.pair
    first, second = pair.a[factor], pair.b[factor]
    ahead = pair.estimate > (1.0 if data.scale == "ratio" else 0.0)
    return (first, second) if ahead == (data.better == "high") else (second, first)


def failed_as_worst(
    layouts: PlanLayouts, data: Data, made: Sequence[str], layout: Layout
) -> FailedWorst:
    """Return the rank test over all items in ``made``, those not in ``data`` tied as the worst.

    ``layout`` is that of the items made, in their order.
    """
    ranks = worst_ranks(data, made)
    whole = replace(data, items=tuple(made), layout=layout, y=ranks, runs=None)
    return FailedWorst(
        p={
            name: test.p
            for name, test in replay_shuffle(layouts, whole, tuple(layout.factors)).items()
        },
        ranks={
            name: {
                level: float(ranks[coded.codes == code].mean())
                for code, level in enumerate(coded.levels)
            }
            for name, coded in layout.factors.items()
        },
    )


def worst_ranks(data: Data, made: Sequence[str]) -> Floats:
    """Return the rank of each item made, the best highest; those without a value share the lowest.

    Ties share their mean rank.
    """
    from scipy.stats import rankdata

    sign = 1.0 if data.better == "high" else -1.0
    known = dict(zip(data.items, (sign * data.y).tolist(), strict=True))
    lowest = min(known.values()) - 1.0
    ranks: Floats = rankdata(np.array([known.get(item, lowest) for item in made]))
    return ranks
