"""What a study promised about looking at its results, and whether it was kept."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

from trials.design.values import Plan
from trials.model.looks import per_look

if TYPE_CHECKING:
    from trials.study import Study


def confidence_of(study: Study) -> float:
    """Return the confidence of a study's intervals: wider where a second look was declared."""
    return per_look(study.analysis.confidence, study.plan.looks)


def look_left(study: Study, plan: Plan) -> bool:
    """Return whether the study declared a second look that no part has used up."""
    return 1 + sum(part.looked for part in plan.parts) < study.plan.looks


def is_after_looking(study: Study, plan: Plan, measured: Collection[str]) -> bool:
    """Return whether items of a part were measured that was asked for beyond the looks declared.

    Parameters
    ----------
    measured : codes of the items that gave a value.
    """
    looks, first = 1, 0
    for part in plan.parts:
        looks += part.looked
        rows = plan.rows[first : first + part.items]
        first += part.items
        if part.looked and looks > study.plan.looks and any(row.item in measured for row in rows):
            return True
    return False
