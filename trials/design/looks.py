"""What a study promised about looking at its results, and whether it was kept."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trials.design.values import Plan
from trials.model.looks import per_look

if TYPE_CHECKING:
    from trials.study import Study


def confidence_of(study: Study) -> float:
    """Return the confidence of a study's intervals: wider where a second look was declared."""
    return per_look(study.analysis.confidence, study.plan.looks)


def is_after_looking(study: Study, plan: Plan) -> bool:
    """Return whether the plan was extended, with results known, more often than was declared."""
    return sum(part.looked for part in plan.parts) + 1 > study.plan.looks
