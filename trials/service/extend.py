"""``trials plan --extend``: more items for a study that has measurements."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from trials.design.columns import layout_of
from trials.design.extend import extend, study_as_written, study_with_parts
from trials.design.judging import judged
from trials.design.outlook import settling_chances
from trials.design.saved import plan_to_dict
from trials.design.values import Plan, VerdictChance
from trials.errors import PlanError
from trials.files import as_typed
from trials.model import Prepared
from trials.progress import progress
from trials.randomness import new_seed
from trials.service.opening import Opened, has_readings, held_plan
from trials.service.plan_files import PAGE, write_plan_page
from trials.service.plan_text import fairness_lines
from trials.service.taken import with_spread_if_there
from trials.study import Response, Study
from trials.words.extending import asked_sentence, settling_sentence
from trials.words.numbers import count
from trials.workspace import Workspace, save_extension, shorter_plan

Chances = Mapping[tuple[str, str], tuple[float, float]]


@dataclass(frozen=True)
class Extended:
    """The longer plan.

    ``chances``: for each response and factor that is not settled yet, the chance of a clear answer
    without and with the new part, if what was seen so far is the truth.
    """

    here: Workspace
    study: Study
    plan: Plan
    chances: Chances
    pictured: bool

    def to_dict(self) -> dict[str, Any]:
        """Return plan.json, and the chances under ``settles``."""
        settles = [
            {"response": response, "factor": factor, "before": before, "after": after}
            for (response, factor), (before, after) in self.chances.items()
        ]
        return {**plan_to_dict(self.plan), "settles": settles}

    def text(self) -> list[str]:
        """Return what is new, what it should settle, and what to do next."""
        part = self.plan.parts[-1]
        made = len(self.plan.rows) - part.items
        lines = [
            f"The plan now has {count(part.items, self.study.item_name)} more, numbers "
            f"{made + 1} to {made + part.items}; what was made before stays as it is.",
            f"{asked_sentence(self.plan, self.study.plan.looks)}",
            "",
            *self._settles(),
            *fairness_lines(self.plan),
            *([f"With pictures: {self.here.folder / PAGE}"] if self.pictured else []),
            "",
        ]
        return [
            *lines,
            f"Next: trials sheets {as_typed(self.here.folder)}  (prints the new part only)",
        ]

    def _settles(self) -> list[str]:
        lines = []
        for (response, factor), chances in self.chances.items():
            of = self.study.response(response)
            label = self.study.factor(factor).label or factor
            lines.append(settling_sentence(label, of.label or response, chances))
        return [*lines, ""] if lines else []


def extend_plan(
    folder: Path,
    *,
    seed: int | None = None,
    items: int | None = None,
    today: datetime.date | None = None,
) -> Extended:
    """Add a part to a plan that has measurements; one that was not printed yet is drawn again.

    Parameters
    ----------
    seed : of the new part; None draws one.
    items : how many items the new part has; None: as many as a session has now.
    today : date to write down; None takes the machine's.

    Raises
    ------
    FileError, StudyError, PlanError : no study, no plan, or nothing measured yet.
    """
    with held_plan(folder) as held:
        opened = replace(held, study=with_spread_if_there(held.here, held.study))
        _refuse_unmeasured(opened)
        base = opened.plan
        if base.parts and base.parts[-1].locked is None:  # never printed: it is drawn again
            _refuse_other_seed(opened, seed)
            seed, base = base.parts[-1].seed, shorter_plan(opened.here, base)
        day = today or datetime.datetime.now().astimezone().date()
        with progress("drawing the new part"):
            written = study_as_written(opened.study, opened.plan)
            longer = extend(
                written,
                base,
                seed=new_seed() if seed is None else seed,
                items=items,
                looked=opened.here.findings.exists(),
                asked=day.isoformat(),
            )
            study = study_with_parts(written, longer)
            longer = judged(study, longer)
        chances = _chances(opened, base, longer)
        save_extension(opened.here, longer)
        pictured = bool(write_plan_page(opened.here, study, longer))
    return Extended(opened.here, study, longer, chances, pictured)


def _refuse_other_seed(opened: Opened, seed: int | None) -> None:
    used = opened.plan.parts[-1].seed
    if seed not in (None, used):
        raise PlanError(
            "The new part keeps the seed it was first drawn with, so that nobody draws until it "
            "pleases.",
            code="plan.part_seed",
            where="--seed",
            found=str(seed),
            allowed=str(used),
            do="Leave --seed out.",
        )


def _refuse_unmeasured(opened: Opened) -> None:
    if opened.plan.locked is None or not has_readings(opened.here):
        raise PlanError(
            "There is nothing to extend yet: nothing was measured with this plan.",
            code="plan.unmeasured",
            where=str(opened.here.plan),
            do=f"Draw a larger plan instead: trials plan {as_typed(opened.here.folder)} --items N",
        )


def _chances(
    opened: Opened, base: Plan, longer: Plan
) -> dict[tuple[str, str], tuple[float, float]]:
    """Return the chances of a clear answer, before and after, of what is not settled yet."""
    from trials.analysis.findings import Findings

    path = opened.here.findings
    if not path.is_file():
        return {}
    try:
        found = Findings.model_validate_json(path.read_bytes())
    except ValueError:  # damaged, or of another version: it can be made again
        return {}
    out = {}
    for response in found.responses:
        open_ones = {
            v.factor: v.largest_difference
            for v in response.verdicts
            if v.verdict == "not settled" and v.largest_difference
        }
        components = {c.group: c.variance or 0.0 for c in response.variance_components}
        of = opened.study.response(response.name)
        before = _clear(opened.study, base, of, components, open_ones)
        after = _clear(opened.study, longer, of, components, open_ones)
        for factor in open_ones:
            if factor in after:
                out[response.name, factor] = (before.get(factor, 0.0), after[factor])
    return out


def _clear(
    study: Study,
    plan: Plan,
    response: Response,
    components: Mapping[str, float],
    seen: Mapping[str, float],
) -> dict[str, float]:
    layout = layout_of(study, plan)
    ready = Prepared(layout, study.analysis.interactions)
    chances = settling_chances(study, ready, response, components, seen)
    return {factor: _is_clear(chance) for factor, chance in chances.items()}


def _is_clear(chance: VerdictChance) -> float:
    return chance.mattered + chance.no_practical_difference
