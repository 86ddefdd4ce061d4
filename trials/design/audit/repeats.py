"""What has been repeated, on what, and what is left to judge chance by."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np

from trials.design.audit.sizes import equal_items, more_units
from trials.design.audit.view import DF_WANTED, Facts, Found, View
from trials.design.treatments import by_copies
from trials.design.values import PlanFactor
from trials.model import skeleton
from trials.study import recipes

SMALLEST_P = 0.05
MOST_LOSSES = 24  # units lost one at a time, to see what is left


def no_replication(view: View) -> Iterator[Found]:
    """Nothing, or hardly anything, is left to judge a factor's differences by."""
    if not view.plan.skeleton:
        return
    for factor in view.free:
        df = view.tested_df(factor.name)
        if df >= DF_WANTED - 1e-9:
            continue
        unit = view.unit[factor.name]
        yield Found(
            (factor.name,),
            {
                "factor": view.labels[factor.name],
                "unit": view.unit_label(factor.name),
                "members": view.units.count(unit),
                "df": df,
                "also": _also_on(view, factor),
            },
            mends=partial(more_units, view, unit, _least(view, unit)),
        )


def _also_on(view: View, factor: PlanFactor) -> list[str]:
    """Return the other factors that are applied to the same group."""
    unit = view.unit[factor.name]
    if unit is None:
        return []
    return [
        view.labels[name] for name, on in view.unit.items() if on == unit and name != factor.name
    ]


def _least(view: View, unit: str | None) -> int:
    """Return the fewest units that could leave enough: one for every thing that they decide."""
    on = [f for f in view.plan.factors if view.unit[f.name] == unit]
    if unit is None:
        return view.units.n + 1
    within = view.units.group(unit).within
    blocks = 1 if within is None else view.units.count(within)
    levels = [len(f.levels) - 1 for f in on]
    decided = sum(levels)
    if view.study.analysis.interactions > 1:
        decided += sum(a * b for i, a in enumerate(levels) for b in levels[i + 1 :])
    return blocks + decided + DF_WANTED


def untested(view: View) -> Iterator[Found]:
    """Some dependence has nothing left to judge it by."""
    tested = {line.source for line in view.plan.skeleton if line.tested_by}
    named = [line.source for line in view.plan.skeleton if line.efficiency is not None]
    terms = [t for t in dict.fromkeys(named) if ":" in t and t not in tested]
    if not terms:
        return
    units = {frozenset(view.unit[name] for name in term.split(":")) for term in terms}
    common = next(iter(units)) if len(units) == 1 else frozenset((None,))
    unit = None if None in common or len(common) > 1 else next(iter(common))
    yield Found(
        ("untested",),
        {
            "terms": [view.term_labels(term.split(":")) for term in terms],
            "unit": None if unit is None else view.labels[unit],
        },
        mends=partial(more_units, view, unit, _least(view, unit)),
    )


def few_layouts(view: View) -> Iterator[Found]:
    """The versions could be shared out in so few ways that luck can't be told."""
    for factor in view.plan.factors:
        smallest = view.smallest_p.get(factor.name)
        if smallest is None or smallest <= SMALLEST_P + 1e-12:
            continue
        unit = view.unit[factor.name]
        yield Found(
            (factor.name,),
            {
                "factor": view.labels[factor.name],
                "unit": view.unit_label(factor.name),
                "smallest_p": smallest,
                "layouts": round(1 / smallest),
            },
            mends=partial(more_units, view, unit),
        )


def loss_fatal(view: View) -> Iterator[Found]:
    """One unit lost, and nothing is left to judge a factor by."""
    if not view.plan.skeleton:
        return
    for factor in view.free:
        df = view.tested_df(factor.name)
        unit = view.unit[factor.name]
        if not DF_WANTED - 1e-9 <= df < DF_WANTED + 1.5:
            continue
        members = view.units.of_unit(unit)
        names = np.unique(members)
        if len(names) > MOST_LOSSES:
            continue
        lost = sum(_left(view, factor.name, members != name) < DF_WANTED - 1e-9 for name in names)
        if lost:
            yield Found(
                (factor.name,),
                {
                    "factor": view.labels[factor.name],
                    "unit": view.unit_label(factor.name),
                    "members": len(names),
                    "fatal": int(lost),
                },
                mends=partial(more_units, view, unit),
            )


def _left(view: View, factor: str, keep: np.ndarray) -> float:
    """Return the degrees of freedom that a factor is judged by when only some items are left."""
    terms = skeleton(view.without(keep), view.study.analysis.interactions)
    return max((t.den_df or 0.0 for t in terms if t.source == factor and t.tested_by), default=0.0)


def counts(view: View) -> Iterator[Found]:
    """A factor is applied to a group, so the group counts and not the items."""
    for factor in view.plan.factors:
        unit = view.unit[factor.name]
        if unit is not None:
            yield Found(
                (factor.name,),
                {
                    "factor": view.labels[factor.name],
                    "unit": view.labels[unit],
                    "members": view.units.count(unit),
                    "items": view.units.n,
                },
            )


def shared_pot(view: View) -> Iterator[Found]:
    """Several items are said to share a pot or batch that the plan doesn't know of."""
    for factor in view.study.factors:
        if factor.applied_to is None and factor.shared:
            yield Found((factor.name,), {"factor": view.labels[factor.name], "name": factor.name})


def shared_unknown(view: View) -> Iterator[Found]:
    """It isn't said whether items share a pot or batch."""
    unsaid = [f for f in view.study.factors if f.applied_to is None and f.shared is None]
    if unsaid:
        yield Found(
            tuple(f.name for f in unsaid),
            {
                "factors": [view.labels[f.name] for f in unsaid],
                "names": [f.name for f in unsaid],
            },
        )


def unequal(view: View) -> Iterator[Found]:
    """Some recipes are made more often than others."""
    possible = recipes(view.study)
    made: dict[tuple[str, ...], int] = {}
    for row in view.plan.rows:
        recipe = tuple(row.factors.values())
        made[recipe] = made.get(recipe, 0) + 1
    whole = len(made) >= possible or view.study.limits.fraction
    fewest, most = (min(made.values()) if whole else 0), max(made.values())
    if fewest == most or view.uneven_by_intent:
        return
    copies = view.units.n // possible
    yield Found(
        ("unequal",),
        {
            "fewest": fewest,
            "most": most,
            "items": view.units.n,
            "below": copies * possible,
            "above": (copies + 1) * possible,
            **_held_unequally(view, possible),
        },
        "note" if most - fewest == 1 and fewest else "warn",
        mends=partial(equal_items, view),
    )


def _held_unequally(view: View, possible: int) -> Facts:
    """Return the unit whose members hold unequal numbers, where that is why nothing comes out even.

    With as many members for every version there are then not as many items.
    """
    for factor in view.plan.factors:
        unit = view.unit[factor.name]
        if unit is None or view.units.n % possible:
            continue
        held = np.bincount(view.units.codes[unit])
        if held.min() < held.max():
            group, sizes = view.labels[unit], sorted({int(size) for size in held})
            return {"group": group, "sizes": sizes, "factor": view.labels[factor.name]}
    return {}


def sizes_short(view: View) -> Iterator[Found]:
    """The sizes of a group add up to fewer items than the study says can be made."""
    study = view.study
    limits = study.limits
    wanted = limits.items
    if limits.copies is not None and by_copies(study):
        wanted = limits.copies * recipes(study)
    for group in study.groups:
        if group.sizes and wanted is not None and view.units.n < wanted and not view.plan.parts:
            yield Found(
                (group.name,),
                {
                    "group": view.labels[group.name],
                    "name": group.name,
                    "items": view.units.n,
                    "wanted": wanted,
                },
            )


def group_of_one(view: View) -> Iterator[Found]:
    """There is one of a group in all, so nothing is known of others like it."""
    for group in view.plan.groups:
        if len(group.members) == 1:
            yield Found((group.name,), {"group": view.labels[group.name]})
