"""What a study and its plan say of each other and of the plan's parts, without drawing anything.

All that opening a study and printing its sheets needs; the search, the model and the libraries they
calculate with are not loaded by it.
"""

from __future__ import annotations

from collections.abc import Sequence

from trials.design.values import AuditFinding, Plan, PlanFactor, PlanRow
from trials.study.values import Study, StudyGroup


def plan_factors(study: Study) -> tuple[PlanFactor, ...]:
    """Return the factors of a study as a plan records them."""
    return tuple(
        PlanFactor(
            name=factor.name,
            levels=factor.levels,
            unit=factor.unit,
            kind=factor.kind,
            scale=factor.scale,
            applied_to=None if factor.applied_to is None else study.path(factor.applied_to),
            control=factor.control,
        )
        for factor in study.factors
    )


def study_with_parts(study: Study, plan: Plan) -> Study:
    """Return the study with the groups that an extension of its plan has added."""
    names = {group.name for group in study.groups}
    added = tuple(
        StudyGroup(name=group.name, count=len(group.members), members=group.members)
        for group in plan.groups
        if group.added and group.name not in names
    )
    return study.model_copy(update={"groups": (*added, *study.groups)}) if added else study


def study_as_written(study: Study, plan: Plan) -> Study:
    """Return the study without the groups that an extension of its plan has added."""
    added = {group.name for group in plan.groups if group.added}
    groups = tuple(group for group in study.groups if group.name not in added)
    return study.model_copy(update={"groups": groups}) if added else study


def part_plans(plan: Plan) -> tuple[Plan, ...]:
    """Return the parts of an extended plan as plans, each with the members that it uses."""
    out = []
    first = 0
    for part in plan.parts:
        rows = plan.rows[first : first + part.items]
        first += part.items
        groups = tuple(
            group.model_copy(update={"members": _used(group.members, group.name, rows)})
            for group in plan.groups
        )
        changed = {"rows": rows, "groups": groups, "shuffle": part.shuffle, "parts": ()}
        out.append(plan.model_copy(update={**changed, "seed": part.seed, "locked": part.locked}))
    return tuple(out)


def printed_plans(plan: Plan) -> tuple[Plan, ...]:
    """Return a plan as it is handed out: each part by itself, in the groups that the study names.

    A plan that was never extended is its only part. The first part of an extended plan is the plan
    that it was before, with the same check code.
    """
    if not plan.parts:
        return (plan,)
    out = []
    for part in part_plans(plan):
        groups = tuple(group for group in part.groups if not group.added)
        names = {group.name for group in groups}
        rows = tuple(
            row.model_copy(update={"groups": {k: v for k, v in row.groups.items() if k in names}})
            for row in part.rows
        )
        out.append(part.model_copy(update={"groups": groups, "rows": rows}))
    return tuple(out)


def _used(members: Sequence[str], group: str, rows: Sequence[PlanRow]) -> tuple[str, ...]:
    here = {row.groups[group] for row in rows}
    return tuple(member for member in members if member in here)


def stops(plan: Plan) -> tuple[AuditFinding, ...]:
    """Return the findings for which a plan should not be carried out as it is."""
    return tuple(finding for finding in plan.audit if finding.severity == "stop")
