"""Items whose value is only known to be at least so much: they outlasted the watching.

Leaving them out would drop the best and make versions that last look worse; putting in what they
had reached would do so too. What is known for sure is who stands before whom: an item known to be
at least 50 is above every one measured at 50 or less, and can't be told from any other. So each
item counts how many it is surely above and how many surely below (E. A. Gehan, 1965, Biometrika 52,
203-223; as one score an item: N. Mantel, 1967, Biometrics 23, 65-78; both from memory). That is its
rank, ties sharing theirs, and everything that follows is about these ranks. Tested by the plan's
own shuffle they are as exact as any values, as long as how long an item was watched doesn't depend
on its version.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import inf

import numpy as np

from trials.analysis.centring import numbers
from trials.analysis.data import Data
from trials.analysis.failed_worst import FailedWorst
from trials.analysis.findings import AtLeast, Ranked, ResponseFindings, Typical, Verdict
from trials.design.values import Plan
from trials.model.layout import Floats
from trials.record.values import ItemValue
from trials.study.values import Response
from trials.words.sentences import VerdictFacts, verdict_sentence

UNIT = "rank"


def has_rank(value: ItemValue) -> bool:
    """Return whether an item gave a value, or is known to be at least so much."""
    return value.status == "at least" or (value.status == "measured" and value.value is not None)


def sure_ranks(values: Sequence[ItemValue]) -> Floats:
    """Return the rank of each item, 1 the lowest, shape (n,); ties, and what is unsure, share.

    Without any item known only as 'at least', these are the ranks of the values.

    Examples
    --------
    >>> def item(value, at_least=None):
    ...     status = "measured" if at_least is None else "at least"
    ...     return ItemValue("", "", status, value, None, None, 1, at_least=at_least)
    >>> sure_ranks([item(3.0), item(9.0), item(None, 10.0), item(None, 5.0)]).tolist()
    [1.0, 2.5, 3.5, 3.0]
    """
    low = np.array([v.at_least if v.value is None else v.value for v in values], dtype=np.float64)
    high = np.array([inf if v.value is None else v.value for v in values], dtype=np.float64)
    above = (low[:, None] >= high) & ~((low[:, None] == high) & (high[:, None] == low))
    ranks: Floats = (len(low) + 1) / 2 + (above.sum(axis=1) - above.sum(axis=0)) / 2
    return ranks


def by_ranks(data: Data, values: Sequence[ItemValue]) -> Data:
    """Return the data with ranks in place of values; the margin can't be one of ranks, so none.

    Parameters
    ----------
    values : of the items in ``data``, in their order.
    """
    centred = numbers([repr(rank) for rank in sure_ranks(values).tolist()], data.name)
    return replace(
        data,
        unit=UNIT,
        scale="difference",
        y=centred.values,
        centred=centred,
        options=data.options.model_copy(update={"worthwhile": None, "compare": "difference"}),
    )


def ranked(plan: Plan, response: Response, values: Sequence[ItemValue]) -> Ranked:
    """Return which items are known only as 'at least', and what is typical of each version.

    Parameters
    ----------
    values : of the items that took part.
    """
    rows = {row.item: row for row in plan.rows}
    typical = []
    for factor in plan.factors:
        for level in factor.levels:
            mine = [v for v in values if rows[v.item].factors[factor.name] == level]
            if mine:
                low, high = (_middle(mine, beyond) for beyond in (False, True))
                typical.append(
                    Typical(
                        factor=factor.name,
                        level=level,
                        count=len(mine),
                        at_least=sum(v.status == "at least" for v in mine),
                        median=low,
                        exact=low == high,
                    )
                )
    return Ranked(
        unit=response.unit,
        items=tuple(
            AtLeast(item=v.item, value=v.at_least) for v in values if v.at_least is not None
        ),
        levels=tuple(typical),
    )


def _middle(values: Sequence[ItemValue], beyond: bool) -> float:
    """Return the median, items known as 'at least' taken as just that, or as without end."""
    each = [(inf if beyond else v.at_least) if v.value is None else v.value for v in values]
    return float(np.median(np.array(each, dtype=np.float64)))


def rank_verdicts(
    data: Data, response: Response, found: ResponseFindings, worst: FailedWorst | None
) -> tuple[Verdict, ...]:
    """Return the verdict on each factor where a margin was declared: not settled, with the ranks.

    The margin is one of values, and values are what is missing. Whether the versions differ at all
    is told by the shuffle of the ranks, failed items counted as the worst.

    Parameters
    ----------
    data, found : of the ranks.
    """
    if response.worthwhile is None:
        return ()
    tests = {effect.term: effect.p_randomisation for effect in found.effects}
    if worst is not None:
        tests |= worst.p
    return tuple(
        _verdict(data, response, found, factor, tests.get(factor)) for factor in data.layout.factors
    )


def _verdict(
    data: Data, response: Response, found: ResponseFindings, factor: str, p: float | None
) -> Verdict:
    gaps = [(abs(c.difference), c) for c in found.comparisons
            if c.term == factor and len(c.a) == 1 and c.difference is not None]  # fmt: skip
    ahead: Mapping[str, str] = {}
    behind: Mapping[str, str] = {}
    if gaps:
        pair = max(gaps, key=lambda one: one[0])[1]
        first = (pair.difference or 0.0) > 0
        ahead, behind = (pair.a, pair.b) if first else (pair.b, pair.a)
    return Verdict(
        factor=factor,
        verdict="not settled",
        reason="at_least",
        a=dict(ahead) or None,
        b=dict(behind) or None,
        largest_difference=None,
        interval=None,
        worthwhile=response.worthwhile or 0.0,
        p_ranks=p,
        sentence=verdict_sentence(
            VerdictFacts(
                factor=data.label(factor),
                verdict="not settled",
                reason="at_least",
                response=data.label(data.name),
                scale=response.compare,
                worthwhile=response.worthwhile or 0.0,
                a=data.version(ahead),
                b=data.version(behind),
                unit=response.unit,
                randomised=data.randomised,
                item=data.item_name,
                failed=data.n_failed,
                p_ranks=p,
                alpha=1 - data.options.confidence,
            )
        ),
    )
