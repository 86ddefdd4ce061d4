"""A plan's two structures and columns, as the model takes them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

from trials.design.factorials import Codes
from trials.design.units import Units
from trials.design.values import Plan, PlanFactor, PlanGroup, PlanRow
from trials.model import Factor, Group, Layout, Prepared, Structure, make_layout

if TYPE_CHECKING:
    from trials.study import Study

Columns = dict[str, list[str]]


def plan_structure(factors: Sequence[PlanFactor], groups: Sequence[PlanGroup]) -> Structure:
    """Return the two structures of a plan, for the model."""
    return Structure(
        factors=[Factor(f.name, f.kind, f.levels, f.scale) for f in factors],
        groups=[Group(g.path, g.random) for g in groups],
        applied_to={f.name: f.applied_to for f in factors if f.applied_to is not None},
    )


def columns_of(plan: Plan, rows: Sequence[PlanRow] | None = None) -> Columns:
    """Return the members and versions of some rows of a plan, in order; None: of all its rows."""
    rows = plan.rows if rows is None else rows
    columns = {g.name: [row.groups[g.name] for row in rows] for g in plan.groups}
    return columns | {f.name: [row.factors[f.name] for row in rows] for f in plan.factors}


def drawn_columns(
    units: Units, factors: Sequence[PlanFactor], codes: Mapping[str, Codes]
) -> Columns:
    """Return the members and versions of every position of a layout."""
    columns = {g.name: [g.members[c] for c in units.codes[g.name]] for g in units.groups}
    return columns | {f.name: [f.levels[c] for c in codes[f.name]] for f in factors}


def model_layout(
    study: Study,
    units: Units,
    factors: Sequence[PlanFactor],
    codes: Mapping[str, Codes],
) -> Layout:
    """Return the columns of a layout with its structures, for the model."""
    columns = drawn_columns(units, factors, codes)
    structure = plan_structure(factors, units.groups)
    return make_layout(structure, columns, random=study.analysis.random)


def items_layout(
    plan: Plan, items: Sequence[str] | None = None, random: tuple[str, ...] = ()
) -> Layout:
    """Return the layout of some items of a plan, in the order given; None: of all its rows.

    A group is fixed or random by what is left of it, as the analysis takes it.
    """
    known = {row.item: row for row in plan.rows}
    rows = plan.rows if items is None else [known[item] for item in items]
    structure = plan_structure(plan.factors, plan.groups)
    return make_layout(structure, columns_of(plan, rows), random=random)


def layout_of(study: Study, plan: Plan, kept: Sequence[int] | None = None) -> Layout:
    """Return the layout of a plan's rows, or of those at the places in ``kept``."""
    items = None if kept is None else [plan.rows[place].item for place in kept]
    return items_layout(plan, items, study.analysis.random)


def ready_of(study: Study, plan: Plan) -> Prepared:
    """Return a plan's rows as the model judges them at assumed variances.

    Outlook, check and judgement ask the same of one plan: what was worked out once is kept.
    """
    columns = tuple((name, tuple(labels)) for name, labels in columns_of(plan).items())
    analysis = study.analysis
    return _prepared(plan.factors, plan.groups, columns, analysis.random, analysis.interactions)


@lru_cache(maxsize=2)
def _prepared(
    factors: tuple[PlanFactor, ...],
    groups: tuple[PlanGroup, ...],
    columns: tuple[tuple[str, tuple[str, ...]], ...],
    random: tuple[str, ...],
    interactions: int,
) -> Prepared:
    table = {name: list(labels) for name, labels in columns}
    layout = make_layout(plan_structure(factors, groups), table, random=random)
    return Prepared(layout, interactions)
