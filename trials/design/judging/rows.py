"""The rows of a plan as the model takes them, whole or with some of them lost."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from trials.design.columns import plan_structure
from trials.design.values import Plan
from trials.model import Layout, make_layout

if TYPE_CHECKING:
    from trials.study import Study


def layout_of(study: Study, plan: Plan, kept: Sequence[int] | None = None) -> Layout:
    """Return the layout of a plan's rows, or of those at the places in ``kept``.

    A group is fixed or random by what is left of it, as the analysis will take it.
    """
    rows = plan.rows if kept is None else [plan.rows[place] for place in kept]
    columns = {g.name: [row.groups[g.name] for row in rows] for g in plan.groups}
    columns |= {f.name: [row.factors[f.name] for row in rows] for f in plan.factors}
    structure = plan_structure(plan.factors, plan.groups)
    return make_layout(structure, columns, random=study.analysis.random)
