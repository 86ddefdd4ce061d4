"""``trials plan``: draw the plan and keep it in the study folder."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trials.design.draw import draw
from trials.design.saved import plan_to_dict
from trials.design.values import Plan
from trials.progress import progress
from trials.randomness import new_seed
from trials.service.opening import has_readings, open_study
from trials.service.plan_text import fairness_lines, outlook_lines, size_lines
from trials.study import Study
from trials.workspace import (
    Workspace,
    has_plan,
    load_plan,
    refuse_if_measured,
    save_plan,
)


@dataclass(frozen=True)
class Planned:
    """The plan that was drawn; ``replaced`` tells of an older one whose sheets had been printed."""

    here: Workspace
    study: Study
    plan: Plan
    replaced: bool

    def to_dict(self) -> dict[str, Any]:
        """Return plan.json."""
        return plan_to_dict(self.plan)

    def text(self) -> list[str]:
        """Return where the plan is, whether it is fair, and what it can tell."""
        lines = [
            f"Plan drawn with seed {self.plan.seed}: {self.here.plan_table}",
            *size_lines(self.study, self.plan),
            "",
            *fairness_lines(self.plan),
            *outlook_lines(self.study, self.plan),
            "",
        ]
        if self.replaced:
            lines += [
                "The sheets of the old plan are void: throw them away. The old plan is kept in "
                "history/, and the report will tell.",
                "",
            ]
        return [*lines, f"Next: trials sheets {self.here.folder}"]


def draw_plan(
    folder: Path,
    *,
    seed: int | None = None,
    items: int | None = None,
    today: datetime.date | None = None,
) -> Planned:
    """Draw a plan and keep it.

    Parameters
    ----------
    seed : what chance starts from; None draws one. Every seed tried for a study is kept.
    items : how many items to make, instead of what study.toml says.
    today : date to write down where a printed plan is replaced; None takes the machine's.

    Raises
    ------
    FileError, StudyError, PlanError : no study, an impossible one, or a plan with measurements.
    """
    here, study = open_study(folder)
    with here.held():
        refuse_if_measured(here, has_readings(here))
        tried = _seeds_tried(here, study) if has_plan(here) else ()
        chosen = new_seed() if seed is None else seed
        before = tuple(number for number in tried if number != chosen)
        with progress("drawing the plan"):
            plan = draw(study, seed=chosen, seeds_tried=before, items=items)
        replaced = save_plan(
            here, plan, measured=False, today=today or datetime.datetime.now().astimezone().date()
        )
    return Planned(here, study, plan, replaced)


def _seeds_tried(here: Workspace, study: Study) -> tuple[int, ...]:
    """Return the seeds tried for this very study before."""
    old, _ = load_plan(here)
    return old.seeds_tried if old.study_digest == study.digest() else ()
