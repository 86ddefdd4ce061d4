"""What the choices are applied to: every item's place in every group, before any choice is made.

Groups with ``within`` are nested, others cross. Items are shared out as evenly as whole numbers
allow, over each group and over what two groups have in common. Where sizes are given, a group holds
what the groups inside it hold.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from trials.design.balance import excess_of, fair_counts
from trials.design.factorials import Codes
from trials.design.values import PlanGroup
from trials.errors import PlanError
from trials.study.bans import member_labels
from trials.study.check_groups import members_in_all

if TYPE_CHECKING:
    from trials.study import Study, StudyGroup


@dataclass(frozen=True)
class Units:
    """Positions 0 to n - 1, and for each group the member that each position belongs to.

    ``codes[name]`` has shape (n,) and indexes into the members of that group.
    """

    n: int
    groups: tuple[PlanGroup, ...]  # a group after the one it is within
    codes: Mapping[str, Codes]

    def group(self, name: str) -> PlanGroup:
        """Return the group called ``name``; KeyError if there is none."""
        for group in self.groups:
            if group.name == name:
                return group
        raise KeyError(name)

    def above(self, name: str | None) -> tuple[str, ...]:
        """Return the groups that hold this one, largest first; for None (the item) all groups."""
        if name is None:
            return tuple(group.name for group in self.groups)
        return tuple(self.group(name).path.split("/")[:-1])

    def having(self, ban: Mapping[str, str]) -> npt.NDArray[np.bool_]:
        """Return the positions that a ban holds for, shape (n,): those of the members it names."""
        here = np.ones(self.n, dtype=bool)
        for group in self.groups:
            if group.name in ban:
                named = [place for place, m in enumerate(group.members) if m == ban[group.name]]
                here &= np.isin(self.codes[group.name], named)
        return here

    def of_unit(self, name: str | None) -> Codes:
        """Return the member of a unit that each position belongs to; None: the position itself."""
        return np.arange(self.n, dtype=np.intp) if name is None else self.codes[name]

    def count(self, name: str | None) -> int:
        """Return how many of a unit there are."""
        return self.n if name is None else len(self.group(name).members)


def make_units(study: Study, n: int, rng: np.random.Generator) -> Units:
    """Share ``n`` items out over the groups of a study.

    Which members get one item more than others, where numbers don't come out even, is left to
    ``rng``. Positions come in the order of the groups.

    Raises
    ------
    PlanError : a group can't hold its items, or has more members than there are items.
    """
    groups = plan_groups(study)
    for group in groups:
        _check_room(study, group, n)
        _check_sum(study, group, n)
    codes: dict[str, Codes] = {}
    for group in groups:
        sizes = _own_sizes(study, group) or _sizes_from_inside(study, group, groups, n)
        if sizes:
            codes[group.name] = _deal_sizes(group, sizes, groups, codes, n)
        else:
            codes[group.name] = _deal(group, groups, codes, n, rng)
    order = np.lexsort([codes[group.name] for group in reversed(groups)]) if groups else None
    if order is not None:
        codes = {name: column[order] for name, column in codes.items()}
    return Units(n, groups, codes)


def plan_groups(study: Study) -> tuple[PlanGroup, ...]:
    """Return the groups of a study, larger before smaller, their members labelled.

    Labels are unique over the whole plan.

    Raises
    ------
    PlanError : member names that don't fit the count.
    """
    ordered: list[StudyGroup] = []
    waiting = list(study.groups)
    while waiting:
        ready = [g for g in waiting if g.within is None or g.within in {o.name for o in ordered}]
        if not ready:
            raise PlanError(
                "These groups are within each other, so none is the largest.",
                code="plan.groups_in_a_ring",
                where="groups in study.toml",
                found=", ".join(group.name for group in waiting),
                do="Take 'within' out of the largest of them.",
            )
        ordered.extend(ready)
        waiting = [group for group in waiting if group not in ready]
    ordered.sort(key=lambda group: _family_place(study, group))
    done: dict[str, PlanGroup] = {}
    for group in ordered:
        done[group.name] = PlanGroup(
            name=group.name,
            path=study.path(group.name),
            within=group.within,
            step=group.step,
            role=group.role,
            members=_labels(study, group),
            random=group.random,
        )
    return tuple(done.values())


def _family_place(study: Study, group: StudyGroup) -> tuple[int, ...]:
    """Return a sort key that puts families in the order of the file, parents before children."""
    place = [g.name for g in study.groups].index(group.name)
    return (*_family_place(study, study.group(group.within)), place) if group.within else (place,)


def _labels(study: Study, group: StudyGroup) -> tuple[str, ...]:
    labels = member_labels(study, group.name)
    if labels:
        return labels
    total = members_in_all(study, group.name)
    raise PlanError(
        f"The names of '{group.name}' don't fit its number.",
        code="plan.members_dont_fit",
        where=f"[groups.{group.name}] members in study.toml",
        found=f"{len(set(group.members))} different names",
        allowed=f"{group.count}" if total == group.count else f"{group.count} or {total}",
        do="Name each once, or change count.",
    )


def _check_room(study: Study, group: PlanGroup, n: int) -> None:
    members = len(group.members)
    capacity = study.group(group.name).capacity
    if members > n:
        raise PlanError(
            f"There are more members of '{group.name}' than items, so some would stay empty.",
            code="plan.empty_groups",
            where=f"[groups.{group.name}] in study.toml",
            found=f"{members} x {group.name} for {n} items",
            allowed=f"at most {n}",
            do=f"Make at least {members} items, or plan with fewer of '{group.name}'.",
        )
    largest = -(-n // members)
    if capacity is None or largest <= capacity or study.group(group.name).sizes:
        return
    needed = -(-n // capacity)
    each = -(-needed // (members // study.group(group.name).count))
    within = f" in each {group.within}" if group.within else ""
    raise PlanError(
        f"The groups called '{group.name}' can't hold all the items.",
        code="plan.no_room",
        where=f"[groups.{group.name}] in study.toml",
        found=f"{n} items in {members} x {group.name}: up to {largest} in one",
        allowed=f"at most {capacity} in one, {capacity * members} in all",
        do=(
            f"Make at most {capacity * members} items, or plan count = {each}{within},"
            f" or a capacity of {largest}."
        ),
    )


def _own_sizes(study: Study, group: PlanGroup) -> tuple[int, ...]:
    """Return the sizes of all members as the file gives them; none where it gives none."""
    sizes = study.group(group.name).sizes
    return sizes * (len(group.members) // len(sizes)) if sizes else ()


def _sizes_from_inside(
    study: Study, group: PlanGroup, groups: Sequence[PlanGroup], n: int
) -> tuple[int, ...]:
    """Return the sizes that follow from those of the groups inside; none where chance may decide.

    Members inside are counted in the order of the file: with 6, 5, 5, 5 for four loads in two
    lessons, the lessons hold 11 and 10.
    """
    for inner in groups:
        each = _own_sizes(study, inner) if group.name in inner.path.split("/")[:-1] else ()
        if sum(each) == n:
            of_one = len(each) // len(group.members)
            sizes = tuple(
                sum(each[start : start + of_one]) for start in range(0, len(each), of_one)
            )
            return sizes if len(set(sizes)) > 1 else ()
    return ()


def _deal(
    group: PlanGroup,
    groups: tuple[PlanGroup, ...],
    codes: Mapping[str, Codes],
    n: int,
    rng: np.random.Generator,
) -> Codes:
    """Return the members of one more group: even in size, even over the groups dealt before."""
    held_by = set(group.path.split("/")[:-1])
    crossing = [other.name for other in groups if other.name in codes and other.name not in held_by]
    parent = codes[group.within] if group.within else np.zeros(n, dtype=np.intp)
    count = len(group.members) // (int(parent.max()) + 1)
    out = np.empty(n, dtype=np.intp)
    for place in range(int(parent.max()) + 1):
        inside = np.flatnonzero(parent == place)
        keys = [codes[name][inside] for name in reversed(crossing)]
        ordered = inside[np.lexsort(keys)] if keys else inside
        member = rng.permutation(count)[np.arange(len(ordered)) % count]
        out[ordered] = member
        others = {name: codes[name][inside] for name in crossing}
        if not _spread_evenly(out[inside], others, count):
            out[inside] = _spread(others, len(inside), count, rng)
        out[inside] += place * count
    return out


def _deal_sizes(
    group: PlanGroup,
    sizes: Sequence[int],
    groups: tuple[PlanGroup, ...],
    codes: Mapping[str, Codes],
    n: int,
) -> Codes:
    """Return the members of a group whose members are to have these numbers of items, (members,).

    Items that stand alike in the groups dealt before come one after another, so that a member
    meets as many members of those as it can.
    """
    parents = int(codes[group.within].max()) + 1 if group.within else 1
    crossing = [g.name for g in groups if g.name in codes and g.name not in group.path.split("/")]
    out = np.empty(n, dtype=np.intp)
    count = len(sizes) // parents
    for parent in range(parents):
        inside = np.flatnonzero(codes[group.within] == parent) if group.within else np.arange(n)
        mine = sizes[parent * count : (parent + 1) * count]
        if sum(mine) != len(inside):
            raise _sizes_unlike(group, sum(mine), len(inside))
        keys = [codes[name][inside] for name in reversed(crossing)]
        ordered = inside[np.lexsort(keys)] if keys else inside
        out[ordered] = parent * count + _interleaved(mine)
    return out


def _check_sum(study: Study, group: PlanGroup, n: int) -> None:
    sizes = _own_sizes(study, group)
    if sizes and sum(sizes) != n:
        raise _sizes_unlike(group, sum(sizes), n, in_all=True)


def _sizes_unlike(group: PlanGroup, found: int, allowed: int, *, in_all: bool = False) -> PlanError:
    return PlanError(
        f"The sizes of '{group.name}' don't add up to the items there are.",
        code="plan.sizes_sum",
        where=f"[groups.{group.name}] sizes in study.toml",
        found=f"{found} items" + ("" if in_all else f" in one {group.within}"),
        allowed=f"{allowed}",
        do="Change a size." if in_all else f"Change a size here or at '{group.within}'.",
    )


def _interleaved(sizes: Sequence[int]) -> Codes:
    """Return members so that each is spread over the whole line as evenly as can be.

    Examples
    --------
    >>> _interleaved([2, 4]).tolist()
    [1, 0, 1, 1, 0, 1]
    """
    places = [
        ((slot + 0.5) / size, member) for member, size in enumerate(sizes) for slot in range(size)
    ]
    return np.array([member for _, member in sorted(places)], dtype=np.intp)


def _spread_evenly(member: Codes, others: Mapping[str, Codes], count: int) -> bool:
    return all(
        excess_of(member, count, within) == 0
        for within in (np.zeros_like(member), *others.values())
    )


def _spread(others: Mapping[str, Codes], size: int, count: int, rng: np.random.Generator) -> Codes:
    """Return members that are even over several other groups at once, as far as possible."""
    from trials.design.solver import Rule, solve

    rules: list[Rule] = []
    scopes = [np.zeros(size, dtype=np.intp), *others.values()]
    for weight, scope in zip((1000, *[10] * len(others)), scopes, strict=True):
        for value in np.unique(scope):
            places = np.flatnonzero(scope == value)
            low, high = fair_counts(len(places), count)
            for member in range(count):
                pairs = tuple((int(place), member, 1) for place in places)
                rules.append(Rule(pairs, low, high, weight))
    answer = solve(size, count, rules, seed=int(rng.integers(2**31)), effort=2.0)
    return answer.choice
