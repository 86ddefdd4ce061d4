"""What a loss would do: one item, one firing, one team, one session gone.

Which losses do most harm is first told from the covariance of the estimates without the lost rows,
which needs no new fit (a rank-m change of the information). The worst few are then judged in full,
as the analysis would find the plan: groups taken anew, Kenward-Roger's degrees of freedom.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from trials.design.columns import layout_of, ready_of
from trials.design.differences import unit_differences
from trials.design.judging.detectable import as_given, smallest_difference
from trials.design.looks import confidence_of
from trials.design.outlook import assume
from trials.design.values import Loss, Plan
from trials.errors import AnalysisError
from trials.model import RESIDUAL, Layout, Precision, Prepared
from trials.model.layout import Codes, Floats
from trials.model.precision import covariance

if TYPE_CHECKING:
    from trials.study import Response, Study

SHORT_LIST = 2  # losses per factor that are judged in full, where there are more
ALL_OF = 8  # up to so many members, all are

Effect = Literal["estimate lost", "test lost", "weaker", "untested"]


@dataclass(frozen=True)
class Assumption:
    """The variances that losses are judged by; ``response`` None: all variances equal."""

    response: Response | None
    components: Mapping[str, float] | None

    def variances(self, layout: Layout) -> dict[str, float]:
        """Return the variance of each random group of a layout and of the items."""
        if self.components is not None:
            return dict(self.components)
        return {group.path: 1.0 for group in layout.random} | {RESIDUAL: 1.0}


@dataclass(frozen=True)
class _Member:
    """What may be lost together: its name and the places of its rows."""

    group: str | None
    label: str
    places: Codes


@dataclass(frozen=True)
class _Told:
    """What a layout tells of one factor; ``size`` is the difference found in 80 % of repeats."""

    num_df: int
    den_df: float | None
    size: float | None


def find_losses(study: Study, plan: Plan) -> tuple[Loss, ...]:
    """Return for each group, and for the single item, the loss that harms each factor most.

    Groups come as in the plan, the item last. The spread assumed is that of the first primary
    response that gives one, else of the first that does; where none does all variances are equal,
    and only what is lost and how much weaker the rest gets is told.
    """
    if not plan.factors:
        return ()
    ready = ready_of(study, plan)
    assumption = assumed_for(study)
    known = _known(ready, assumption)
    if known is None:
        return ()
    before = {f.name: _told(study, known, f.name) for f in plan.factors}
    screen = _Screen(known, assumption.variances(ready.layout), [f.name for f in plan.factors])
    judged: dict[tuple[str | None, str], dict[str, _Told]] = {}
    out: list[Loss] = []
    for members in _kinds(plan):
        harm = screen.short_lists(members)
        for name, places in harm.items():
            losses = []
            for place in places:
                member = members[place]
                key = (member.group, member.label)
                if key not in judged:
                    judged[key] = _without(study, plan, assumption, member)
                losses.append(_loss(member, name, assumption, before[name], judged[key][name]))
            if losses:
                out.append(max(losses, key=_harm))
    return tuple(out)


def cost_of(
    study: Study, plan: Plan, before: Collection[str], after: Collection[str], made: Plan
) -> tuple[Loss, ...]:
    """Return what each factor's answer loses from one set of items to another.

    Parameters
    ----------
    before, after : the codes of the items that are compared.
    made : the plan as it was made, for what there is afterwards.
    """
    return costs_from(study, plan, before, made)(after)


def costs_from(
    study: Study, plan: Plan, before: Collection[str], made: Plan
) -> Callable[[Collection[str]], tuple[Loss, ...]]:
    """Return what tells of any set of items what :func:`cost_of` does, from one and the same set.

    What there is before is worked out once for all that is asked.
    """
    assumption = assumed_for(study)

    def told(of: Plan, kept: Collection[str]) -> dict[str, _Told]:
        return _told_of(
            study, of, assumption, [n for n, row in enumerate(of.rows) if row.item in kept]
        )

    one = told(plan, before)

    def cost(after: Collection[str]) -> tuple[Loss, ...]:
        two = told(made, after)
        lost = len(frozenset(before) - frozenset(after))
        member = _Member(None, "", np.arange(lost, dtype=np.intp))
        return tuple(
            _loss(member, factor.name, assumption, one[factor.name], two[factor.name])
            for factor in plan.factors
        )

    return cost


def assumed_for(study: Study) -> Assumption:
    """Return the spread that losses are judged by."""
    given = [r for r in study.responses if r.spread is not None]
    for response in sorted(given, key=lambda r: not r.primary):
        assumed = assume(study, response)
        if assumed is not None and assumed.components[RESIDUAL] > 0:
            return Assumption(response, assumed.components)
    return Assumption(None, None)


def _kinds(plan: Plan) -> Iterator[list[_Member]]:
    """Yield the members of each group of two or more, then the items."""
    everything = np.arange(len(plan.rows), dtype=np.intp)
    for group in plan.groups:
        labels = np.array([row.groups[group.name] for row in plan.rows])
        members = [
            _Member(group.name, label, everything[labels == label]) for label in group.members
        ]
        members = [member for member in members if len(member.places)]
        if len(members) > 1:
            yield members
    if len(plan.rows) > 1:
        yield [
            _Member(None, row.item, everything[place : place + 1])
            for place, row in enumerate(plan.rows)
        ]


def _known(ready: Prepared, assumption: Assumption) -> Precision | None:
    try:
        return ready.at(assumption.variances(ready.layout))
    except AnalysisError:
        return None


def _told(study: Study, known: Precision, factor: str) -> _Told:
    test = known.term(factor)
    size = smallest_difference(known, (factor,), alpha=1 - confidence_of(study))
    return _Told(test.num_df, test.den_df, size)


def _without(study: Study, plan: Plan, assumption: Assumption, member: _Member) -> dict[str, _Told]:
    """Return what the plan tells of each factor once a member is lost."""
    kept = np.setdiff1d(np.arange(len(plan.rows)), member.places)
    return _told_of(study, plan, assumption, kept.tolist())


def _told_of(
    study: Study, plan: Plan, assumption: Assumption, kept: Sequence[int]
) -> dict[str, _Told]:
    """Return what the rows of a plan at some places tell of each factor."""
    if len(kept) < 2:  # nothing to compare
        return {f.name: _Told(0, None, None) for f in plan.factors}
    layout = layout_of(study, plan, kept)
    known = _known(Prepared(layout, study.analysis.interactions), assumption)
    if known is None:
        return {f.name: _Told(_levels(layout, f.name) - 1, None, None) for f in plan.factors}
    return {f.name: _told(study, known, f.name) for f in plan.factors}


def _levels(layout: Layout, factor: str) -> int:
    return len(layout.factors[factor].levels)


def _loss(
    member: _Member, factor: str, assumption: Assumption, before: _Told, after: _Told
) -> Loss:
    effect: Effect = "weaker"
    if before.den_df is None or before.size is None:
        effect = "untested"
    if after.num_df < before.num_df:
        effect = "estimate lost"
    elif effect == "weaker" and after.size is None:
        effect = "test lost"
    growth = None
    if before.size and after.size and effect == "weaker":
        growth = after.size / before.size
    response = assumption.response
    return Loss(
        group=member.group,
        member=member.label,
        items=len(member.places),
        factor=factor,
        effect=effect,
        response=None if response is None else response.name,
        before=None if response is None else as_given(response, before.size),
        after=None if response is None else as_given(response, after.size),
        growth=growth,
        df_before=before.den_df,
        df_after=after.den_df,
    )


_RANK: tuple[Effect, ...] = ("untested", "weaker", "test lost", "estimate lost")


def _harm(loss: Loss) -> tuple[int, float]:
    return _RANK.index(loss.effect), round(loss.growth or 0.0, 9)


class _Screen:
    """The covariance of the estimates at given variances, and what of it a loss takes away."""

    def __init__(
        self, known: Precision, variances: Mapping[str, float], factors: Sequence[str]
    ) -> None:
        design = known.design
        self.H = np.linalg.inv(covariance(design.layout, variances))
        self.U: Floats = design.XK.T @ self.H
        self.Phi = np.linalg.inv(self.U @ design.XK)
        self.factors = list(factors)
        self.L = {name: known.term(name).L for name in factors}
        self.shifts: dict[str, Floats] = {}
        for name, L in self.L.items():
            rows = unit_differences(known.design, (name,))
            self.shifts[name] = np.reshape([L @ row for row in rows], (len(rows), len(L)))

    def short_lists(self, members: Sequence[_Member]) -> dict[str, list[int]]:
        """Return for each factor the places of the losses to be judged in full."""
        if len(members) <= ALL_OF:
            return {name: list(range(len(members))) for name in self.factors}
        left = [self._left(member.places) for member in members]
        return {
            name: sorted(range(len(members)), key=lambda m: (left[m][name], m))[:SHORT_LIST]
            for name in self.factors
        }

    def _left(self, places: Codes) -> dict[str, float]:
        """Return what is left of each factor's noncentrality at a difference of 1; 0: nothing."""
        lost = self.U[:, places]
        spread = self.Phi @ lost
        K = self.H[np.ix_(places, places)] - lost.T @ spread
        values, vectors = np.linalg.eigh((K + K.T) / 2)
        gone = values < 1e-9 * np.diag(self.H).max()
        out = {}
        for name in self.factors:
            L, shifts = self.L[name], self.shifts[name]
            w = L @ spread @ vectors
            if not shifts.size or np.abs(w[:, gone]).max(initial=0.0) > 1e-7:
                out[name] = 0.0
                continue
            cov = L @ self.Phi @ L.T + (w[:, ~gone] / values[~gone]) @ w[:, ~gone].T
            size = np.einsum("ij,ji->i", shifts, np.linalg.solve(cov, shifts.T)).min()
            out[name] = round(float(size), 12)
        return out
