"""A plan's two structures and columns, as the model takes them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from trials.design.factorials import Codes
from trials.design.units import Units
from trials.design.values import PlanFactor, PlanGroup
from trials.model import Factor, Group, Layout, Structure, make_layout

if TYPE_CHECKING:
    from trials.study import Study


def plan_structure(factors: Sequence[PlanFactor], groups: Sequence[PlanGroup]) -> Structure:
    """Return the two structures of a plan, for the model."""
    return Structure(
        factors=[Factor(f.name, f.kind, f.levels, f.scale) for f in factors],
        groups=[Group(g.path, g.random) for g in groups],
        applied_to={f.name: f.applied_to for f in factors if f.applied_to is not None},
    )


def model_layout(
    study: Study,
    units: Units,
    factors: Sequence[PlanFactor],
    codes: Mapping[str, Codes],
) -> Layout:
    """Return the columns of a layout with its structures, for the model."""
    columns = {g.name: [g.members[c] for c in units.codes[g.name]] for g in units.groups}
    columns |= {f.name: [f.levels[c] for c in codes[f.name]] for f in factors}
    structure = plan_structure(factors, units.groups)
    return make_layout(structure, columns, random=study.analysis.random)
