"""The plan whose numbers a study shows: the one in its folder, or one drawn to see.

``trials check``, ``trials power`` and ``trials plan --options`` all ask here, so that they speak of
the same plan. Nothing in the folder is changed.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from trials import __version__
from trials.design.draw import draw, preview, with_audit, with_outlook
from trials.design.judging import judged
from trials.design.planned import study_with_parts
from trials.design.values import Plan
from trials.errors import TrialsError
from trials.service.opening import changes_between, has_readings, is_fixed
from trials.service.promises import kept_promises
from trials.service.taken import with_spread_if_there, with_taken_spread
from trials.study import Study, read_study
from trials.words.judging import plan_told
from trials.workspace import Workspace, has_plan, open_workspace, read_plan

Which = Literal["plan", "next plan", "trial draw"]


@dataclass(frozen=True)
class Standing:
    """A study and the plan whose numbers are shown.

    ``which``: the ``plan`` in the folder; the ``next plan``, just as ``trials plan`` would draw it
    with the seed that the study keeps; or a ``trial draw``, where no seed was ever drawn.
    ``damaged``: what is wrong with a plan.json that can't be read.
    """

    here: Workspace
    study: Study
    plan: Plan
    which: Which
    damaged: str = ""

    def told(self) -> str:
        """Return the one sentence on which plan the numbers belong to."""
        return plan_told(self.which, self.plan.seed, self.damaged)


def standing(folder: Path) -> Standing:
    """Return the study of a folder and the plan that it stands for.

    Raises
    ------
    FileError, StudyError : there is no study, or it says something impossible.
    PlanError : no plan can be made of it.
    """
    here = open_workspace(folder)
    now = read_study(here.study)
    old, damaged = _there(here)
    if old is not None:
        study = _study_of(here, now, old)
        if study is not None:
            known = study_with_parts(with_spread_if_there(here, study), old)
            return Standing(here, known, _as_of_now(known, old), "plan")
    study = with_taken_spread(here, now)
    if old is None or old.parts:
        return Standing(here, study, judged(study, preview(study)), "trial draw", damaged)
    drawn = draw(study, seed=old.seed, seeds_tried=tried_before(old))
    return Standing(here, study, judged(study, drawn), "next plan")


def tried_before(plan: Plan) -> tuple[int, ...]:
    """Return the seeds tried before the one that a study keeps."""
    return tuple(seed for seed in plan.seeds_tried if seed != plan.seed)


def _there(here: Workspace) -> tuple[Plan | None, str]:
    if not has_plan(here):
        return None, ""
    try:
        return read_plan(here), ""
    except TrialsError as problem:
        return None, problem.found or problem.what


def _study_of(here: Workspace, now: Study, plan: Plan) -> Study | None:
    """Return the study that a plan is to be read by; None where the plan doesn't fit any more.

    Once its sheets are printed, or something was measured, a plan stays though limits change.
    """
    if now.digest() == plan.study_digest:
        return now
    try:
        planned = read_study(here.study_as_planned)
    except TrialsError:
        return None
    if planned.digest() != plan.study_digest:
        return None
    changed = changes_between(planned, now)
    if plan.locked is not None or has_readings(here):
        return None if any(is_fixed(key) for key in changed) else kept_promises(planned, now).study
    return None if changed or planned.limits != now.limits else now


def _as_of_now(study: Study, plan: Plan) -> Plan:
    """Return the plan with what it can tell at the spread as it is known now."""
    if not plan.factors or _is_as_drawn(study, plan):
        return plan
    told = judged(study, with_outlook(study, plan))
    return plan if told == plan else with_audit(study, told)


def _is_as_drawn(study: Study, plan: Plan) -> bool:
    """Return whether a plan was worked out by this very study and program.

    What is taken from a practice run is in no digest, and a part may have been added by a study
    that said something else.
    """
    same = plan.program_version == __version__ and plan.study_digest == study.digest()
    return same and study.spread_from is None and not plan.parts
