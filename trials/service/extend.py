"""``trials plan --extend``: more items for a study that has measurements."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trials.design.columns import items_layout
from trials.design.extend import extend
from trials.design.given import Clear, Seen, clear_chances
from trials.design.judging import judged
from trials.design.planned import study_as_written, study_with_parts
from trials.design.saved import plan_to_dict
from trials.design.values import Plan, PlanPart
from trials.errors import AnalysisError, PlanError
from trials.files import as_typed
from trials.model import RESIDUAL
from trials.progress import progress
from trials.randomness import new_seed
from trials.record import Measured, State, Store, measured_state, not_made
from trials.service.opening import Opened, has_readings, held_plan
from trials.service.plan_files import PAGE, write_plan_page
from trials.service.plan_text import fairness_lines
from trials.service.taken import with_spread_if_there
from trials.study import Response, Study
from trials.words.extending import (
    asked_sentence,
    needed_sentence,
    part_sentence,
    questions_sentence,
    replaces_sentence,
    settling_sentences,
    unmeasured_part,
)
from trials.words.numbers import count, plural
from trials.workspace import (
    Workspace,
    open_workspace,
    plan_as_seen,
    refuse_if_drawn_meanwhile,
    save_extension,
    shorter_plan,
)

if TYPE_CHECKING:
    from trials.analysis.findings import Findings

Chances = Mapping[tuple[str, str], Clear]


@dataclass(frozen=True)
class Needed:
    """How many of a factor's units the last analysis said would settle it, and how many there are.

    ``count``: in all. ``planned``: with the new part, without what was lost. ``assumption``: as in
    the findings.
    """

    response: str
    factor: str
    group: str | None  # None: items
    count: int
    planned: int
    assumption: str


@dataclass(frozen=True)
class Extended:
    """The longer plan.

    ``chances``: for each response and factor that is not settled yet, the chances of a clear answer
    once the new part is measured, what is measured already being what it is. ``replaces``: a part
    that was never printed, whose place the new one takes. ``questions``: ids of what is open.
    """

    here: Workspace
    study: Study
    plan: Plan
    chances: Chances
    pictured: bool
    needed: tuple[Needed, ...] = ()
    questions: tuple[str, ...] = ()
    replaces: PlanPart | None = None

    def to_dict(self) -> dict[str, Any]:
        """Return plan.json, the chances under ``settles``, and what bears on the number of items.

        ``to_settle``: what the last analysis said is needed. ``open_questions``: ids.
        ``replaces``: items and day of a part that was never printed; null where there was none.
        """
        settles = [
            {
                "response": response,
                "factor": factor,
                "if_as_so_far": chances.as_seen,
                "if_nothing": chances.none,
            }
            for (response, factor), chances in self.chances.items()
        ]
        old = self.replaces
        return {
            **plan_to_dict(self.plan),
            "settles": settles,
            "to_settle": [asdict(one) for one in self.needed],
            "open_questions": list(self.questions),
            "replaces": None if old is None else {"items": old.items, "asked": old.asked},
        }

    def text(self) -> list[str]:
        """Return what is new, what it should settle, and what to do next."""
        part = self.plan.parts[-1]
        made = len(self.plan.rows) - part.items
        lines = [
            f"The plan now has {count(part.items, self.study.item_name)} more, numbers "
            f"{made + 1} to {made + part.items}; what was made before stays as it is.",
            *self._replaced(),
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
        for one in self.needed:
            thing = self.study.item_name
            if one.group is not None:
                thing = self.study.group(one.group).label or one.group
            lines.append(
                needed_sentence(
                    self.study.factor(one.factor).label or one.factor,
                    thing,
                    (one.count, one.planned),
                    one.assumption,
                )
            )
        lines += filter(None, [questions_sentence(self.questions, as_typed(self.here.folder))])
        return [*lines, ""] if lines else []

    def _replaced(self) -> list[str]:
        old = self.replaces
        if old is None:
            return []
        same = old.model_copy(update={"asked": ""}) == self.plan.parts[-1].model_copy(
            update={"asked": ""}
        )
        return [
            replaces_sentence(count(old.items, self.study.item_name), old.asked or "", same=same)
        ]


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
        part that was added and printed last; or someone else changed the plan since this was asked.
    """
    seen = plan_as_seen(open_workspace(folder))
    with held_plan(folder) as held:
        again = f"trials plan {as_typed(held.here.folder)} --extend"
        refuse_if_drawn_meanwhile(held.here, seen, again)
        opened = replace(held, study=with_spread_if_there(held.here, held.study))
        _refuse_unmeasured(opened)
        base, old = opened.plan, None
        if base.parts and base.parts[-1].locked is None:  # never printed: it is drawn again
            _refuse_other_seed(opened, seed)
            old = base.parts[-1]
            seed, base = old.seed, shorter_plan(opened.here, base)
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
                lost=_lost(state, base),
            )
            study = study_with_parts(written, longer)
            longer = judged(study, longer)
        found = _findings(opened.here)
        measured = measured_state(state, study, longer)
        chances = _chances(opened, longer, measured, found)
        save_extension(opened.here, longer)
        pictured = bool(write_plan_page(opened.here, study, longer))
    return Extended(
        opened.here,
        study,
        longer,
        chances,
        pictured,
        needed=_needed(study, longer, found, _lost(state, longer)),
        questions=tuple(question.id for question in measured.open_questions),
        replaces=old,
    )


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


def _lost(state: State, plan: Plan) -> frozenset[str]:
    """Return the items that were lost, or not made, before anything was read of them."""
    read = {row.item for row in state.rows}
    lost = {loss.item for loss in state.losses} - read
    return frozenset(lost.union(not_made(state.absences, plan, read)))


def _refuse_unmeasured_part(opened: Opened, base: Plan, state: State) -> None:
    """Refuse another part while the last one, which was printed, has no reading at all."""
    if not base.parts:
        return
    part = base.parts[-1]
    items = {row.item for row in base.rows[-part.items :]}
    waiting = items - _lost(state, base)
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


def _findings(here: Workspace) -> Findings | None:
    """Return what the last analysis found; None where there was none that can be read."""
    from trials.analysis.findings import Findings

    if not here.findings.is_file():
        return None
    try:
        return Findings.model_validate_json(here.findings.read_bytes())
    except ValueError:  # damaged, or of another version: it can be made again
        return None


def _needed(
    study: Study, longer: Plan, found: Findings | None, lost: frozenset[str]
) -> tuple[Needed, ...]:
    """Return what the last analysis said would settle what is not settled yet."""
    out = []
    rows = [row for row in longer.rows if row.item not in lost]
    for response in () if found is None else found.responses:
        for verdict in response.verdicts:
            settle = verdict.to_settle
            if settle is not None:
                unit = study.factor(verdict.factor).applied_to
                there = {row.item if unit is None else row.groups[unit] for row in rows}
                out.append(
                    Needed(
                        response.name,
                        verdict.factor,
                        unit,
                        settle.count,
                        len(there),
                        settle.assumption,
                    )
                )
    return tuple(out)


def _chances(opened: Opened, longer: Plan, measured: Measured, found: Findings | None) -> Chances:
    """Return the chances of a clear answer on what is not settled yet."""
    if found is None:
        return {}
    out: dict[tuple[str, str], Clear] = {}
    for response in found.responses:
        if response.ranked is not None:
            continue  # how values spread isn't known
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
