"""From comparisons to verdicts: which factor mattered, and what would settle the rest."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from trials.analysis.data import Data
from trials.analysis.failed_worst import FailedWorst
from trials.analysis.findings import Comparison, Crossing, ToSettle, Verdict
from trials.analysis.parts import Compared
from trials.analysis.reasons import USED_UP, reason_for, tied_to
from trials.analysis.verdicts import Judgement, PairInterval, Present, Reason, judge, to_settle
from trials.digest import finite_or_none
from trials.model import RESIDUAL, Fit
from trials.model.inference import UNSURE, Line
from trials.words.comparing import Pair
from trials.words.crossing import CrossFacts
from trials.words.sentences import VerdictFacts, verdict_sentence

Families = Mapping[str, tuple[Compared, ...]]
Simple = Mapping[tuple[str, str], tuple[Compared, ...]]


@dataclass(frozen=True)
class _Rest:
    """What a verdict rests on: all pairs, pairs within other factors' levels, crossings."""

    family: tuple[Compared, ...]
    inner: tuple[Compared, ...]
    crossings: tuple[Crossing, ...]


def factor_verdicts(
    data: Data,
    fit: Fit,
    families: Families,
    simple: Simple,
    crossings: tuple[Crossing, ...] = (),
    *,
    worst: FailedWorst | None = None,
) -> tuple[Verdict, ...]:
    """Return the verdict on every factor; none where no margin was declared.

    A verdict that doesn't stand once failed items count as the worst is not settled. Where the
    averages are not settled because a factor's difference depends on another factor, the reason is
    "depends", and no number of units is said to settle it.
    """
    if data.options.worthwhile is None:
        return ()
    out = []
    for factor, family in families.items():
        inner = [one for (name, _), group in simple.items() if name == factor for one in group]
        if all(one.pair.line is None for one in family):
            out.append(_nothing_to_judge(data, fit, factor))
            continue
        judgement = judgement_of(data, fit, factor, family, inner, worst=worst)
        own = tuple(one for one in crossings if one.factor == factor)
        if judgement is not None and _depends(judgement, own):
            judgement = replace(judgement, reason="depends")
        if judgement is not None:
            out.append(_verdict(data, fit, factor, judgement, _Rest(family, tuple(inner), own)))
    return tuple(out)


def judgement_of(
    data: Data,
    fit: Fit,
    factor: str,
    family: Sequence[Compared],
    inner: Sequence[Compared],
    *,
    worst: FailedWorst | None = None,
) -> Judgement | None:
    """Return the judgement on one factor by itself; None where no margin was declared.

    Parameters
    ----------
    family, inner : all pairs of its levels, and those within the levels of other factors.
    worst : what becomes of each factor if failed items count as the worst.
    """
    if data.options.worthwhile is None:
        return None
    found = judge(
        _intervals(data, fit, family),
        data.options.worthwhile,
        data.scale,
        _intervals(data, fit, inner),
    )
    if found is None:
        return None
    unseen = any(one.pair.line is None for one in (*family, *inner))
    if unseen and found.reason in ("wide", "inside_on_average"):
        found = replace(found, reason="not_compared")
    if found.reason == "no_replication":
        found = replace(found, reason=_no_yardstick(fit, factor, family))
    if worst is not None and worst.contradicts(factor, found, data):
        found = replace(found, verdict="not settled", reason="failures_disagree")
    return found


def _nothing_to_judge(data: Data, fit: Fit, factor: str) -> Verdict:
    """Return why there is no verdict: one level only, or none that can be compared."""
    levels = fit.design.layout.factors[factor].levels
    one = {factor: levels[0]} if len(levels) == 1 else None
    tied = () if one is not None else tied_to(fit, factor)
    reason: Reason = "one_level" if one is not None else "tied" if tied else "not_compared"
    return Verdict(
        factor=factor,
        verdict="not settled",
        reason=reason,
        a=one,
        largest_difference=None,
        interval=None,
        worthwhile=data.options.worthwhile or 0.0,
        sentence=verdict_sentence(
            VerdictFacts(
                factor=data.label(factor),
                verdict="not settled",
                reason=reason,
                response=data.label(data.name),
                scale=data.scale,
                worthwhile=data.options.worthwhile or 0.0,
                a="" if one is None else data.version(one),
                depends_on=tuple(data.label(name) for name in tied),
                unit=data.unit,
                randomised=data.randomised,
                item=data.item_name,
            )
        ),
    )


def _no_yardstick(fit: Fit, factor: str, family: Sequence[Compared]) -> Reason:
    """Return why no pair of a factor has an interval."""
    lines = [one.pair.line for one in family if one.pair.line is not None]
    found = {reason_for(fit, (factor,), line.note) for line in lines}
    if found == {"no_variation"}:
        return "no_variation"
    if found == {UNSURE}:
        return "error_unsure"
    return "no_residual_df" if found == {USED_UP} else "no_replication"


def _depends(judgement: Judgement, crossings: tuple[Crossing, ...]) -> bool:
    """Return whether open averages hide that the factor matters together with another."""
    return judgement.reason in ("wide", "inside_on_average", "clear_not_surely_big") and any(
        one.turns or one.beyond for one in crossings
    )


def _intervals(data: Data, fit: Fit, family: Sequence[Compared]) -> list[PairInterval]:
    layout = fit.design.layout
    out = []
    for one in family:
        pair, line = one.pair, one.pair.line
        levels = layout.factors[pair.factor].levels
        if line is None:  # never compared: anything may be true of this pair
            line = Line(0.0, None, None, "not_estimable")
        reach = None
        if line.se is not None and one.critical is not None:
            reach = line.se * one.critical
        out.append(
            PairInterval(
                a={pair.factor: levels[pair.a]},
                b={pair.factor: levels[pair.b]},
                estimate=data.gap(line.estimate),
                low=None if reach is None else data.gap(line.estimate - reach),
                high=None if reach is None else data.gap(line.estimate + reach),
                within={f: layout.factors[f].levels[code] for f, code in pair.at},
            )
        )
    return out


def _verdict(
    data: Data,
    fit: Fit,
    factor: str,
    judgement: Judgement,
    rest: _Rest,
) -> Verdict:
    pair = judgement.pair
    margin = data.options.worthwhile or 0.0
    settle = None
    if judgement.reason in ("wide", "inside_on_average", "clear_not_surely_big"):
        settle = _settle(data, fit, factor, judgement, rest)
    interval = (finite_or_none(pair.low), finite_or_none(pair.high))
    return Verdict(
        factor=factor,
        verdict=judgement.verdict,
        reason=judgement.reason,
        a=dict(pair.a),
        b=dict(pair.b),
        largest_difference=finite_or_none(pair.estimate),
        interval=interval,
        worthwhile=margin,
        to_settle=settle,
        sentence=_sentence(data, fit, factor, judgement, (settle, rest)),
    )


def _settle(
    data: Data,
    fit: Fit,
    factor: str,
    judgement: Judgement,
    rest: _Rest,
) -> ToSettle | None:
    """Count the factor's own units that would probably settle it.

    More items in the same units never do. 'No difference' is a truth to plan for only where the
    data don't already rule it out.
    """
    inner = rest.inner
    lines = [c.pair.line for c in rest.family if c.pair.line is not None]
    simple = [c.pair.line.se for c in inner if c.pair.line is not None and c.pair.line.se]
    worst = max((x for x in lines if x.se is not None and x.df is not None), default=None,
                key=lambda x: x.se or 0.0)  # fmt: skip
    if worst is None or worst.se is None or worst.df is None or data.options.worthwhile is None:
        return None
    layout = fit.design.layout
    unit = layout.units[factor]
    units = layout.grouping(unit).members if unit is not None else layout.n
    levels = len(layout.factors[factor].levels)
    contexts = {c.pair.at for c in inner}
    present = Present(
        se=worst.se,
        df=worst.df,
        units=units,
        levels=levels,
        confidence=data.options.confidence,
        simple_se=max(simple) if simple else None,
        contexts=len(contexts),
    )
    found = to_settle(
        present,
        data.options.worthwhile,
        judgement.pair.estimate,
        data.scale,
        _growth(worst.df, units, levels),
        none_is_possible=judgement.reason != "clear_not_surely_big",
    )
    if found is None:
        return None
    group = unit if unit is not None else layout.item or RESIDUAL
    return ToSettle(group=group, count=found.count, assumption=found.assumption)


def _growth(df: float, units: int, levels: int) -> Callable[[int], float]:
    """Return df with more units: each new unit brings one, as in the present number (at least)."""
    spent = max(units - df, levels)
    return lambda more: float(np.maximum(more - spent, df))


def _sentence(
    data: Data,
    fit: Fit,
    factor: str,
    judgement: Judgement,
    more_to_tell: tuple[ToSettle | None, _Rest],
) -> str:
    settle, rest = more_to_tell
    pair = judgement.pair
    unit = fit.design.layout.units[factor]
    open_ = {name for one in judgement.simple for name in one.within}
    depends = [name for name in fit.design.layout.factors if name in open_]  # in the plan's order
    group = "" if unit is None else _group_name(data, unit)
    levels = len(fit.design.layout.factors[factor].levels)
    units = fit.design.layout.n if unit is None else fit.design.layout.grouping(unit).members
    more = None if settle is None else -(-(settle.count - units) // levels)
    return verdict_sentence(
        VerdictFacts(
            factor=data.label(factor),
            verdict=judgement.verdict,
            reason=judgement.reason,
            response=data.label(data.name),
            scale=data.scale,
            worthwhile=data.options.worthwhile or 0.0,
            a=data.version(pair.a),
            b=data.version(pair.b),
            estimate=pair.estimate,
            interval=(finite_or_none(pair.low), finite_or_none(pair.high)),
            unit=data.unit,
            randomised=data.randomised,
            item=data.item_name,
            unit_group=group,
            failed=data.n_failed,
            to_settle=more,
            settle_group=group,
            also_within=bool(rest.inner),
            settle_if="" if settle is None else settle.assumption,
            depends_on=tuple(data.label(name) for name in depends),
            crossings=tuple(_cross_facts(data, one) for one in rest.crossings),
        )
    )


def _cross_facts(data: Data, crossing: Crossing) -> CrossFacts:
    def pair(one: Comparison) -> Pair:
        return Pair(
            data.version({crossing.factor: one.a[crossing.factor]}),
            data.version({crossing.factor: one.b[crossing.factor]}),
            one.ratio if data.scale == "ratio" else one.difference,
            one.interval_adjusted,
            data.scale,
            data.unit,
        )

    within = crossing.within
    return CrossFacts(
        factor=data.label(crossing.factor),
        within=data.label(within),
        at_one=data.version({within: crossing.one.a[within]}),
        at_other=data.version({within: crossing.other.a[within]}),
        one=pair(crossing.one),
        other=pair(crossing.other),
        turns=crossing.turns,
        beyond=crossing.beyond,
        caused=data.randomised and not data.n_failed,
        failed=data.n_failed > 0,
        item=data.item_name,
    )


def _group_name(data: Data, path: str) -> str:
    """Return what a person calls a group: its label, or its full path in a bare table."""
    last = path.rsplit("/", maxsplit=1)[-1]
    return data.labels.get(last, f"{path} group")
