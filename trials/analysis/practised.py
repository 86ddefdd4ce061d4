"""What a practice run tells: how many worked, how different they came out, how many are needed."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from trials.analysis.alike import (
    Leftover,
    as_given,
    leftover,
    meter_share,
    share_interval,
    spread_of_alike,
    variance_interval,
)
from trials.analysis.data import Data
from trials.analysis.findings import (
    MakerGap,
    Needed,
    PracticeFindings,
    ResponseFindings,
)
from trials.analysis.run import analyse
from trials.design.spares import per_version, spares
from trials.design.values import Plan
from trials.errors import AnalysisError
from trials.model import Factor, Group, Structure, make_layout
from trials.record.values import ItemValue
from trials.study.values import Response

HALF_AS_MUCH_AGAIN = 1.5


@dataclass(frozen=True)
class Seen:
    """One response of a practice run, fitted on one scale, with the items that it was fitted to."""

    data: Data
    found: ResponseFindings
    values: tuple[ItemValue, ...]


def practised(
    plan: Plan,
    response: Response,
    values: Sequence[ItemValue],
    seen: Seen | None,
    logs: Seen | None,
    *,
    confidence: float,
) -> PracticeFindings:
    """Return what a practice run tells of one response.

    Parameters
    ----------
    values : of every item planned.
    seen : on the scale of the response; None where nothing could be fitted.
    logs : the same as logarithms; None where a value is zero or below.
    confidence : of all intervals.
    """
    count = Counter(value.status for value in values)
    worked, failed = count["measured"] + count["at least"], count["failed"]
    made = worked + failed
    found = PracticeFindings(
        response=response.name,
        unit=response.unit,
        scale=response.compare,
        made=made,
        worked=worked,
        lost=count["lost"],
        failing=failed / made if made else None,
        failing_interval=share_interval(failed, made, confidence) if made else (None, None),
    )
    if seen is None:
        return found
    update: dict[str, object] = {"makers": _makers(plan, seen)}
    left = None if _alone(plan, seen) else leftover(seen.found, seen.values)
    if left is not None:
        update["spread"] = spread_of_alike(seen.found, seen.values, confidence)
        share = meter_share(left, confidence)
        if share is not None:
            update |= {"meter_share": share[0], "meter_interval": share[1]}
        update["needed"] = _needed(response, seen, logs, found.failing or 0.0)
    return found.model_copy(update=update)


def _alone(plan: Plan, seen: Seen) -> bool:
    """Tell whether no two items share a member of some group, so that the two can't be told apart.

    What items of different makers differ by is not the spread of items built alike.
    """
    rows = {row.item: row for row in plan.rows}
    items = seen.data.items
    return any(
        len({rows[item].groups[group.name] for item in items}) == len(items)
        for group in plan.groups
    )


def _needed(response: Response, seen: Seen, logs: Seen | None, failing: float) -> Needed | None:
    """Return how many of each version show what is worth caring about, or half as much again."""
    declared = response.worthwhile is not None
    compare = response.compare if declared else "ratio"
    on = seen if compare == response.compare else logs
    left = None if on is None else leftover(on.found, on.values)
    if left is None:
        return None
    difference = response.worthwhile or HALF_AS_MUCH_AGAIN
    size = math.log(difference) if compare == "ratio" else difference
    confidence = seen.data.options.confidence
    few, many = (_count(left, size, end) for end in variance_interval(1.0, left.df, confidence))
    count = _count(left, size, 1.0)
    more = None if count is None else spares(count, failing)
    return Needed(
        compare=compare,
        difference=difference,
        declared=declared,
        count=count,
        interval=(few, many),
        to_make=None if count is None or more is None else count + more,
    )


def _count(left: Leftover, size: float, times: float) -> int | None:
    return per_version(size, math.sqrt(left.total * times))


def _makers(plan: Plan, seen: Seen) -> MakerGap | None:
    """Return the two makers that lie furthest apart; None where there are not two to compare.

    The fit is that of the other groups with the makers as if they were versions; that they were not
    dealt out by chance is for the words to say.
    """
    group = next((g for g in plan.groups if g.role == "maker" and g.within is None), None)
    if group is None:
        return None
    rows = {row.item: row for row in plan.rows}
    labels = [rows[item].groups[group.name] for item in seen.data.items]
    others = [g for g in plan.groups if g.path != group.path]
    structure = Structure(
        factors=[Factor(group.name)], groups=[Group(g.path, g.random) for g in others]
    )
    columns = {group.name: labels} | {
        g.name: [rows[item].groups[g.name] for item in seen.data.items] for g in others
    }
    options = seen.data.options.model_copy(update={"worthwhile": None, "control": ()})
    try:
        layout = make_layout(structure, columns, random=options.random)
        found = analyse(replace(seen.data, layout=layout, options=options), sensitivity=False)
    except AnalysisError:
        return None
    pairs = [c for c in found.comparisons if c.term == group.name and c.size is not None]
    if not pairs:
        return None
    widest = max(pairs, key=lambda c: c.size or 0.0)
    return MakerGap(
        group=group.name,
        members=len(set(labels)),
        a=widest.a[group.name],
        b=widest.b[group.name],
        difference=widest.difference,
        ratio=widest.ratio,
        interval=widest.interval_adjusted,
        df=widest.df,
        sd=_between(seen, labels),
    )


def _between(seen: Seen, labels: Sequence[str]) -> float | None:
    """Return the standard deviation between makers: that of their means, less what items add."""
    left = leftover(seen.found, seen.values)
    if left is None:
        return None
    names = sorted(set(labels))
    own = [seen.data.y[[label == name for label in labels]] for name in names]
    if len(own) < 2:
        return None
    means = float(np.var([part.mean() for part in own], ddof=1))
    variance = means - left.total * float(np.mean([1 / len(part) for part in own]))
    return as_given(variance, ratio=left.ratio) if variance > 0 else None
