"""Would the answer change if failed items counted as the worst of all?

Comparing only the items that worked can flatter a level whose items mostly failed. So every item
that was made is ranked, the failed ones tied below all others, and the ranks are tested by the
plan's own shuffle, as the values were (for ranks of failures tied lowest see J. M. Lachin, 1999,
Controlled Clinical Trials 20, 408-422, "worst-rank score analysis").
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from trials.analysis.data import Data
from trials.analysis.plan_layouts import PlanLayouts
from trials.analysis.shuffling import replay_shuffle
from trials.analysis.verdicts import Judgement
from trials.model import Layout
from trials.model.layout import Floats


@dataclass(frozen=True)
class FailedWorst:
    """For each factor the p of the rank test, None where there is none, and mean ranks by level.

    A higher rank is better, whichever way the response is better.
    """

    p: Mapping[str, float | None]
    ranks: Mapping[str, Mapping[str, float]]

    def contradicts(self, factor: str, judgement: Judgement, data: Data) -> bool:
        """Return whether the verdict among working items doesn't stand with failures counted.

        *Mattered*: the level that was better is no longer ahead. *No practical difference*: the
        ranks differ by more than chance would.
        """
        if judgement.verdict == "mattered":
            pair, ranks = judgement.pair, self.ranks[factor]
            first, second = (ranks[side[factor]] for side in (pair.a, pair.b))
            ahead = pair.estimate > (1.0 if data.scale == "ratio" else 0.0)
            if ahead != (data.better == "high"):
                first, second = second, first
            return not first > second
        p = self.p.get(factor)
        return (
            judgement.verdict == "made no practical difference"
            and p is not None
            and p < 1 - data.options.confidence
        )


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
