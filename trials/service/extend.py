"""``trials plan --extend``: more items for a study that has measurements."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from trials.design.columns import items_layout
from trials.design.extend import extend, study_as_written, study_with_parts
from trials.design.given import Clear, Seen, clear_chances
from trials.design.judging import judged
from trials.design.saved import plan_to_dict
from trials.design.values import Plan
from trials.errors import AnalysisError, PlanError
from trials.files import as_typed
from trials.model import RESIDUAL
from trials.progress import progress
from trials.randomness import new_seed
from trials.record import Measured, State, Store, measured_state
from trials.service.opening import Opened, has_readings, held_plan
from trials.service.plan_files import PAGE, write_plan_page
from trials.service.plan_text import fairness_lines
from trials.service.taken import with_spread_if_there
from trials.study import Response, Study
from trials.words.extending import (
    asked_sentence,
    part_sentence,
    settling_sentences,
    unmeasured_part,
)
from trials.words.numbers import count, plural
from trials.workspace import Workspace, save_extension, shorter_plan

Chances = Mapping[tuple[str, str], Clear]


@dataclass(frozen=True)
class Extended:
    """The longer plan.

    ``chances``: for each response and factor that is not settled yet, the chances of a clear answer
    once the new part is measured, what is measured already being what it is.
    """

    here: Workspace
    study: Study
    plan: Plan
    chances: Chances
    pictured: bool

    def to_dict(self) -> dict[str, Any]:
        """Return plan.json, and the chances under ``settles``."""
        settles = [
            {
                "response": response,
                "factor": factor,
                "if_as_so_far": chances.as_seen,
                "if_nothing": chances.none,
            }
            for (response, factor), chances in self.chances.items()
        ]
        return {**plan_to_dict(self.plan), "settles": settles}

    def text(self) -> list[str]:
        """Return what is new, what it should settle, and what to do next."""
        part = self.plan.parts[-1]
        made = len(self.plan.rows) - part.items
        lines = [
            f"The plan now has {count(part.items, self.study.item_name)} more, numbers "
            f"{made + 1} to {made + part.items}; what was made before stays as it is.",
            *filter(None, [part_sentence(self.plan, plural(self.study.item_name))]),
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
        lines: list[str] = []
        for (response, factor), chances in self.chances.items():
            of = self.study.response(response)
            lines += settling_sentences(
                self.study.factor(factor).label or factor,
                of.label or response,
                plural(self.study.item_name),
                (chances.as_seen, chances.none),
            )
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
    FileError, StudyError, PlanError : no study, no plan, nothing measured yet, or nothing of the
        part that was added and printed last.
    """
    with held_plan(folder) as held:
        opened = replace(held, study=with_spread_if_there(held.here, held.study))
        _refuse_unmeasured(opened)
        base = opened.plan
        if base.parts and base.parts[-1].locked is None:  # never printed: it is drawn again
            _refuse_other_seed(opened, seed)
            seed, base = base.parts[-1].seed, shorter_plan(opened.here, base)
        state = _recorded(opened)
        _refuse_unmeasured_part(opened, base, state)
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
                lost=_lost(state),
            )
            study = study_with_parts(written, longer)
            longer = judged(study, longer)
        chances = _chances(opened, longer, measured_state(state, study, longer))
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


def _recorded(opened: Opened) -> State:
    with Store.open(opened.here.record) as store:
        return store.state()


def _lost(state: State) -> frozenset[str]:
    """Return the items that were lost before anything was read of them."""
    return frozenset(loss.item for loss in state.losses) - {row.item for row in state.rows}


def _refuse_unmeasured_part(opened: Opened, base: Plan, state: State) -> None:
    """Refuse another part while the last one, which was printed, has no reading at all."""
    if not base.parts:
        return
    part = base.parts[-1]
    items = {row.item for row in base.rows[-part.items :]}
    waiting = items - _lost(state)
    if waiting and not items & {row.item for row in state.rows}:
        study = opened.study
        told = unmeasured_part(
            len(waiting),
            study.item_name if len(waiting) == 1 else plural(study.item_name),
            part.locked or "",
            as_typed(opened.here.folder),
        )
        what = told.pop("what")
        raise PlanError(what, code="plan.part_unmeasured", where=str(opened.here.plan), **told)


def _chances(opened: Opened, longer: Plan, measured: Measured) -> Chances:
    """Return the chances of a clear answer on what is not settled yet."""
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
        unsettled = [v.factor for v in response.verdicts if v.verdict == "not settled"]
        components = {c.group: c.variance or 0.0 for c in response.variance_components}
        of = opened.study.response(response.name)
        seen = _seen(opened.study, longer, measured, of, components)
        if seen is not None and unsettled:
            for factor, chances in clear_chances(opened.study, of, seen, unsettled).items():
                out[response.name, factor] = chances
    return out


def _seen(
    study: Study,
    longer: Plan,
    measured: Measured,
    response: Response,
    components: Mapping[str, float],
) -> Seen | None:
    """Return what is measured of a response and what is still to come; None where nothing is."""
    from trials.analysis.studies import study_data

    try:
        data = study_data(study, longer, measured, response)
    except AnalysisError:
        return None
    if components.get(RESIDUAL, 0.0) <= 0:
        return None
    coming = [v.item for v in measured.of(response.name) if v.status == "unmeasured"]
    random = study.analysis.random
    whole = items_layout(longer, [*data.items, *coming], random)
    return Seen(data.layout, whole, data.y, components)
