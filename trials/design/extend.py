"""Adding items to a plan that has data: a new block, drawn by itself; what was made stays.

The new items form a block of their own: another member of the study's largest grouping in time
(a third session beside two), or, where the study has none, a group called ``part``. Within it the
versions are dealt as in the first plan, or so that they make up for what that lacks (``beside``),
and shuffled by a shuffle of its own, so that chance rules over each part whatever made people want
the next.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trials.design.audit import audit
from trials.design.beside import Beside, made_up
from trials.design.draw import with_outlook
from trials.design.planned import study_as_written, study_with_parts
from trials.design.settling import settle, settled_rows
from trials.design.shuffle import describe_parts
from trials.design.values import Plan, PlanGroup, PlanPart, PlanRow

if TYPE_CHECKING:
    from trials.study import Study, StudyGroup

PART = "part"


@dataclass(frozen=True)
class _Block:
    """Where the new items go: the group that gets a new member, and the groups that do."""

    name: str
    declared: bool  # the study names it; else it is made for the extension
    fresh: frozenset[str]  # groups whose members in the new part are new


def extend(
    study: Study,
    plan: Plan,
    *,
    seed: int,
    items: int | None = None,
    looked: bool = True,
    asked: str | None = None,
    lost: Collection[str] = (),
) -> Plan:
    """Return the plan with a new part: the best beside what was made, which stays as it is.

    Parameters
    ----------
    seed : of the new part.
    items : how many items the new part has; None: as many as a member of the block has now.
    looked : whether results of the plan so far are known.
    asked : the date, to write down.
    lost : codes of items that the study has to do without; the new part may make up for them.

    Raises
    ------
    PlanError : the new part can't be made with so many items.
    """
    study = study_as_written(study, plan)
    block = _block(study, plan)
    count = items or _usual(plan, block)
    small = _smaller(study, plan, block, count)
    drawn = settle(small, seed, count)
    before = _with_block(plan, block)
    names = _fresh_names(before, drawn.units.groups, block)
    groups = _joined(before, names)
    beside = _beside(study, before, groups, names, block=block, lost=lost)
    other = made_up(small, drawn, beside, seed)
    drawn = other or drawn
    rows = _moved(settled_rows(small, drawn, seed, _taken(before)), before, names, block)
    part = PlanPart(
        items=count,
        seed=seed,
        shuffle=drawn.shuffle,
        looked=looked,
        asked=asked,
        without=tuple(row.item for row in plan.rows if row.item in lost),
        makes_up=other is not None,
    )
    parts = (*_parts(before), part)
    whole = before.model_copy(
        update={
            "seed": seed,
            "groups": groups,
            "rows": (*before.rows, *rows),
            "parts": parts,
            "shuffle": describe_parts(parts),
            "search": None,
        }
    )
    known = study_with_parts(study, whole)
    told = with_outlook(known, whole) if whole.factors else whole
    return told.model_copy(update={"audit": audit(known, told)})


def _beside(
    study: Study,
    plan: Plan,
    groups: tuple[PlanGroup, ...],
    names: Mapping[str, Mapping[str, str]],
    *,
    block: _Block,
    lost: Collection[str],
) -> Beside:
    """Return what the new part stands beside; ``groups`` are those of the whole plan."""
    whole = plan.model_copy(update={"groups": groups})
    rows = tuple(row for row in plan.rows if row.item not in lost)
    return Beside(study_with_parts(study, whole), rows, groups, names, block.name, block.fresh)


def _block(study: Study, plan: Plan) -> _Block:
    applied = {factor.applied_to for factor in study.factors}
    holding = {name for unit in applied if unit for name in study.path(unit).split("/")}
    free = [
        group
        for group in study.groups
        if group.within is None and group.role is None and group.name not in applied
    ]
    # a grouping that holds units comes before one that only crosses them
    ordered = sorted(free, key=lambda g: (g.name not in holding, g.step is not None))
    declared = ordered[:1] if ordered and _is_in_time(ordered[0], holding) else []
    name = declared[0].name if declared else _part_name(plan)
    inside = {group.name for group in study.groups if study.path(group.name).split("/")[0] == name}
    own = {
        group.name
        for group in study.groups
        if any(step in applied for step in study.path(group.name).split("/"))
    }
    return _Block(name, bool(declared), frozenset({name} | inside | own))


def _is_in_time(group: StudyGroup, holding: Collection[str]) -> bool:
    """Return whether a group is one of sessions: it holds units, or is where items are measured."""
    return group.name in holding or group.step is None


def _part_name(plan: Plan) -> str:
    """Return what the group of parts is called: it comes first where there is one already."""
    if plan.parts:
        return plan.groups[0].name
    return _free_name(PART, {g.name for g in plan.groups} | {f.name for f in plan.factors})


def _free_name(wanted: str, taken: Collection[str]) -> str:
    name, number = wanted, 2
    while name in taken:
        name, number = f"{wanted} {number}", number + 1
    return name


def _usual(plan: Plan, block: _Block) -> int:
    """Return how many items a member of the block has now."""
    if not block.declared:
        return len(plan.rows) if not plan.parts else plan.parts[-1].items
    counts: dict[str, int] = {}
    for row in plan.rows:
        counts[row.groups[block.name]] = counts.get(row.groups[block.name], 0) + 1
    return max(counts.values())


def _smaller(study: Study, plan: Plan, block: _Block, count: int) -> Study:
    """Return the study of the new part alone."""
    share = count / (plan.parts[0].items if plan.parts else len(plan.rows))
    groups = []
    for group in study.groups:
        change: dict[str, object] = {}
        if group.name == block.name:
            change = {"count": 1, "members": (), "sizes": ()}
        elif group.name in block.fresh and group.within is None:
            change = {"count": max(_versions(study, group.name), round(group.count * share))}
            change |= {"members": (), "sizes": ()}
        elif group.name in block.fresh:
            change = {"members": ()}
        groups.append(group.model_copy(update=change))
    # what is forbidden to a member that was there before is not forbidden to the new ones
    bans = tuple(ban for ban in study.limits.forbidden if not block.fresh & ban.keys())
    limits = study.limits.model_copy(update={"items": None, "copies": None, "forbidden": bans})
    return study.model_copy(update={"groups": tuple(groups), "limits": limits})


def _versions(study: Study, group: str) -> int:
    total = 1
    for factor in study.factors:
        if factor.applied_to == group:
            total *= len(factor.levels)
    return total


def _with_block(plan: Plan, block: _Block) -> Plan:
    """Return the plan with the block as a group, where it has none of that name."""
    if any(group.name == block.name for group in plan.groups):
        return plan
    first = f"{block.name} 1"
    made = PlanGroup(
        name=block.name, path=block.name, within=None, step=None, role=None, members=(first,),
        random=None, added=True,
    )  # fmt: skip
    rows = tuple(
        row.model_copy(update={"groups": {block.name: first, **row.groups}}) for row in plan.rows
    )
    return plan.model_copy(update={"groups": (made, *plan.groups), "rows": rows})


def _fresh_names(
    plan: Plan, drawn: Sequence[PlanGroup], block: _Block
) -> Mapping[str, Mapping[str, str]]:
    """Return for each group of the new part what its members are called in the whole plan."""
    taken = {member for group in plan.groups for member in group.members}
    out: dict[str, dict[str, str]] = {}
    here = {group.name: group for group in drawn}
    for group in plan.groups:
        members = here[group.name].members if group.name in here else ("1",)
        if group.name not in block.fresh:
            out[group.name] = {member: member for member in members}
            continue
        out[group.name] = {}
        number = len(group.members)
        for member in members:
            number += 1
            stem = member.rstrip("0123456789") if group.name in here else f"{group.name} "
            name = _free_name(f"{stem}{number}", taken)
            taken.add(name)
            out[group.name][member] = name
    return out


def _moved(
    rows: Sequence[PlanRow], plan: Plan, names: Mapping[str, Mapping[str, str]], block: _Block
) -> tuple[PlanRow, ...]:
    """Return the rows of the new part with their place in the whole plan."""
    n = len(plan.rows)
    only = next(iter(names[block.name].values()))
    return tuple(
        row.model_copy(
            update={
                "run": row.run + n,
                "measure": row.measure + n,
                "groups": {
                    group.name: names[group.name][row.groups[group.name]]
                    if group.name in row.groups
                    else only
                    for group in plan.groups
                },
            }
        )
        for row in rows
    )


def _taken(plan: Plan) -> set[str]:
    members = {member for group in plan.groups for member in group.members}
    return members | {row.item for row in plan.rows}


def _joined(plan: Plan, names: Mapping[str, Mapping[str, str]]) -> tuple[PlanGroup, ...]:
    return tuple(
        group.model_copy(
            update={"members": tuple(dict.fromkeys((*group.members, *names[group.name].values())))}
        )
        for group in plan.groups
    )


def _parts(plan: Plan) -> tuple[PlanPart, ...]:
    if plan.parts:
        return plan.parts
    first = PlanPart(items=len(plan.rows), seed=plan.seed, shuffle=plan.shuffle, locked=plan.locked)
    return (first,)
