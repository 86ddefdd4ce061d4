"""What a study demands, line by line, and whether some of its lines can hold together.

A line is a key of study.toml that could be given up: a ban, a required combination, the number,
sizes or room of a group, what a factor is applied to, items, copies. What is compared (factors and
versions, and what is asked of them) always holds. A ban that is given up lets its recipes be made,
but nobody then has to make them: so fewer lines never hold worse.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import islice, product
from math import prod
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from trials.design.factorials import Codes, full_factorial
from trials.design.planned import plan_factors
from trials.design.search.values import Bools, Floats
from trials.design.searched import asked_for, groupings, is_even
from trials.design.solver import Together, satisfiable
from trials.design.tied import tied_factor
from trials.design.treatments import amount, by_copies
from trials.design.units import Units, make_units
from trials.design.worth import joint_members
from trials.errors import PlanError, TrialsError
from trials.model.terms import treatment_terms
from trials.study.bans import written_out
from trials.study.check_groups import members_in_all

if TYPE_CHECKING:
    from trials.study import Study, StudyGroup

Path = tuple[str | int, ...]
Places = tuple[tuple[int, int], ...]  # of a combination: factors and levels, by number
Ban = tuple[dict[str, str], Places]  # members of groups, and what is forbidden to them

ASKED: Path = ("--items",)  # the number of items asked for beside study.toml
MOST_RECIPES = 1_000  # beyond which lines are not held against each other
MOST_ITEMS = 1_000  # looked at where nothing says how many
MOST_SHAPES = 200  # numbers of groups looked at where they are free
EFFORT = 0.5  # of the solver, about seconds

_NOBODY: Mapping[str, str] = MappingProxyType({})


def lines_of_demand(study: Study, items: int | None = None) -> tuple[Path, ...]:
    """Return every line of a study that could be given up, as keys of study.toml.

    Examples
    --------
    >>> from trials.study import Limits, Study
    >>> lines_of_demand(Study(title="", question="", factors=(), responses=(),
    ...                       limits=Limits(items=5, forbidden=({"a": "x", "b": "y"},))))
    (('limits', 'forbidden', 0), ('limits', 'items'))
    """
    limits = study.limits
    out: list[Path] = [
        ("limits", key, place)
        for key in ("forbidden", "required")
        for place in range(len(getattr(limits, key)))
    ]
    for group in study.groups:
        if len(group.sizes) != group.count:  # else the number may stand nowhere
            out.append(("groups", group.name, "count"))
        if group.sizes:
            out.append(("groups", group.name, "sizes"))
        if group.capacity is not None:
            out.append(("groups", group.name, "capacity"))
    out += [("factors", f.name, "applied_to") for f in study.factors if f.applied_to is not None]
    out += [("limits", key) for key in ("copies", "items") if getattr(limits, key) is not None]
    return (*out, ASKED) if items is not None else tuple(out)


class Demands:
    """The lines of a study, and whether some of them can hold together.

    Parameters
    ----------
    items : the number of items asked for beside study.toml, if any.

    Raises
    ------
    PlanError : there are too many recipes to hold lines against each other.
    """

    def __init__(self, study: Study, items: int | None = None) -> None:
        self.study = study
        self.items = items
        self.lines = lines_of_demand(study, items)
        self.names = [factor.name for factor in study.factors]
        self.levels = [len(factor.levels) for factor in study.factors]
        if prod(self.levels) > MOST_RECIPES:
            raise PlanError(
                "There are too many recipes to hold the lines of the study against each other.",
                code="plan.too_many_recipes",
                found=str(prod(self.levels)),
                allowed=f"at most {MOST_RECIPES}",
            )
        self.recipes = full_factorial(self.levels)
        every = study.limits.forbidden
        # of each line that is forbidden: to whom (empty: to every item), and which versions
        self.bans = [[self._ban(one) for one in written_out(study, line)] for line in every]
        self.required = [self._places(one) for one in study.limits.required]
        self.all_allowed = int(self._allowed(range(len(self.bans))).sum())
        # what can be told with all bans; recipes that one less of them allows need not be made
        self.told = int(np.linalg.matrix_rank(self._coded()[self._allowed(range(len(self.bans)))]))
        self._tied: dict[frozenset[int], bool] = {}

    def hold(self, lines: frozenset[int] | None = None) -> bool:
        """Return whether some lines, by number, can hold together; None: all of them."""
        numbers = range(len(self.lines)) if lines is None else lines
        kept = frozenset(self.lines[number] for number in numbers)
        bans = frozenset(i for i in range(len(self.bans)) if ("limits", "forbidden", i) in kept)
        wanted = [i for i in range(len(self.required)) if ("limits", "required", i) in kept]
        may = self._allowed(bans)
        made = self.recipes[may]
        if any(len(np.unique(made[:, f])) < k for f, k in enumerate(self.levels)):
            return False
        if bans and self._is_tied(bans):
            return False
        if not all(self._having(made, self.required[i]).any() for i in wanted):
            return False
        return any(
            self._fits(kept, loose, n, (bans, wanted))
            for loose in islice(self._shapes(kept), MOST_SHAPES)
            for n in self._numbers(kept, loose)
        )

    # ---- recipes ---------------------------------------------------------------------------------

    def _places(self, combination: Mapping[str, str]) -> Places:
        return tuple(
            (self.names.index(name), self.study.factor(name).levels.index(level))
            for name, level in combination.items()
        )

    @staticmethod
    def _having(recipes: Codes, places: Places) -> Bools:
        having: Bools = np.all([recipes[:, f] == level for f, level in places], axis=0)
        return having

    def _ban(self, ban: Mapping[str, str]) -> Ban:
        versions = {name: level for name, level in ban.items() if name in self.names}
        members = {name: member for name, member in ban.items() if name not in self.names}
        return members, self._places(versions)

    def _allowed(self, bans: range | frozenset[int], to: Mapping[str, str] = _NOBODY) -> Bools:
        """Return which recipes the members ``to`` of groups may have; of no group: anybody."""
        never = np.zeros(len(self.recipes), dtype=bool)
        for members, places in (one for ban in bans for one in self.bans[ban]):
            if members.items() <= to.items():
                never |= self._having(self.recipes, places)
        return ~never

    def _coded(self) -> Floats:
        """Return a column for each thing that is asked about, for each recipe."""
        single = {
            name: np.eye(k)[self.recipes[:, place]][:, 1:]
            for place, (name, k) in enumerate(zip(self.names, self.levels, strict=True))
        }
        columns = [np.ones((len(self.recipes), 1))]
        for term in treatment_terms(tuple(self.names), self.study.analysis.interactions):
            block = np.ones((len(self.recipes), 1))
            for name in term:
                block = (block[:, :, None] * single[name][:, None, :]).reshape(len(block), -1)
            columns.append(block)
        return np.hstack(columns)

    def _is_tied(self, bans: frozenset[int]) -> bool:
        if bans not in self._tied:
            made = self.recipes[self._allowed(bans)]
            self._tied[bans] = tied_factor(self.levels, made) is not None
        return self._tied[bans]

    # ---- numbers ---------------------------------------------------------------------------------

    def _shapes(self, kept: frozenset[Path]) -> Iterator[Study]:
        """Yield the study with what is not kept let go, and every number of groups worth a look."""
        study = self.study
        factors = tuple(
            f if ("factors", f.name, "applied_to") in kept else f.model_copy(update=_LOOSE_FACTOR)
            for f in study.factors
        )
        choices = [self._counts(kept, group) for group in study.groups]
        for counts in product(*choices):
            groups = tuple(
                group.model_copy(
                    update={
                        "count": count,
                        "members": group.members if count == group.count else (),
                        "sizes": group.sizes if _key(group, "sizes") in kept else (),
                        "capacity": group.capacity if _key(group, "capacity") in kept else None,
                    }
                )
                for group, count in zip(study.groups, counts, strict=True)
            )
            yield study.model_copy(update={"factors": factors, "groups": groups})

    def _counts(self, kept: frozenset[Path], group: StudyGroup) -> list[int]:
        if _key(group, "count") in kept or (
            len(group.sizes) == group.count and _key(group, "sizes") in kept
        ):
            return [group.count]
        versions = prod(len(f.levels) for f in self.study.factors if f.applied_to == group.name)
        out = {group.count, 1, versions, 2 * versions, max(len(group.sizes), 1)}
        if group.capacity is not None:
            parents = members_in_all(self.study, group.name) // group.count
            out.add(-(-self._most_asked() // (parents * group.capacity)))
        return sorted(out)

    def _most_asked(self) -> int:
        limits = self.study.limits
        copies = (limits.copies or 1) * self.all_allowed
        return max(self.items or 0, limits.items or 0, copies, asked_for(self.study))

    def _numbers(self, kept: frozenset[Path], loose: Study) -> list[int]:
        """Return the numbers of items to look at; none where lines contradict each other."""
        study, limits = self.study, self.study.limits
        exact: set[int] = set()
        room: list[int] = []
        for group in loose.groups:
            members = members_in_all(loose, group.name)
            if group.sizes:
                if len(group.sizes) not in (group.count, members):
                    return []
                exact.add(sum(group.sizes) * (members // len(group.sizes)))
            elif group.capacity is not None:
                room.append(group.capacity * members)
        said = self.items is not None or any(group.sizes for group in study.groups)
        counted = by_copies(study)  # by copies of each recipe
        if ASKED in kept and self.items is not None:
            exact.add(self.items)
        if ("limits", "copies") in kept and counted and not said:
            exact.add((limits.copies or 1) * self.all_allowed)
        if ("limits", "items") in kept and limits.items is not None:
            room.append(limits.items)
            if not said and not counted:
                exact.add(limits.items)
        if exact:
            return [n for n in exact if n <= min(room, default=n)] if len(exact) == 1 else []
        most = min([*room, MOST_ITEMS])
        return sorted({most, min(most, self._said())}, reverse=True)

    def _said(self) -> int:
        try:
            return amount(self.study, self.items).items
        except TrialsError:
            return self._most_asked()

    def _fits(
        self,
        kept: frozenset[Path],
        loose: Study,
        n: int,
        combinations: tuple[frozenset[int], list[int]],
    ) -> bool:
        """Return whether so many items in such groups can be given what is asked."""
        bans, wanted = combinations
        if not self._has_room(kept, loose, n):
            return False
        uneven = not is_even(self.study, n)
        if uneven and n < asked_for(self.study):
            return False
        try:
            units = make_units(loose, n, np.random.default_rng(0))
        except PlanError:
            return False
        fixed = self._fixed(loose, units)
        if uneven and n < self.told + _differences(fixed, units.n):
            return False
        if uneven and not self._can_be_told(units, fixed, bans):
            return False
        return self._can_be_given(loose, units, bans, wanted)

    def _has_room(self, kept: frozenset[Path], loose: Study, n: int) -> bool:
        """Return whether every recipe can be made, and every group holds its items."""
        limits = self.study.limits
        copies = (limits.copies or 1) if ("limits", "copies") in kept else 1
        least = 1 if limits.fraction else copies * self.all_allowed  # that there has to be room for
        if not limits.fraction and n < self.all_allowed:
            return False
        if ("limits", "items") in kept and limits.items is not None and limits.items < least:
            return False
        for group in loose.groups:
            members = members_in_all(loose, group.name)
            versions = prod(len(f.levels) for f in loose.factors if f.applied_to == group.name)
            room = least if group.capacity is None else members * group.capacity
            big = max(group.sizes, default=1)
            if members > n or versions > members or room < least:
                return False
            if group.capacity is not None and big > group.capacity:
                return False
        return True

    def _fixed(self, loose: Study, units: Units) -> list[Codes]:
        """Return the groups that stand for themselves: differences between these are taken out.

        Those are none to which a factor is applied, though that line may be let go.
        """
        held = loose.model_copy(update={"factors": self.study.factors})
        known = groupings(held, units, plan_factors(held))
        return [joint_members(units, one.groups) for one in known if one.variance is None]

    def _can_be_told(self, units: Units, fixed: list[Codes], bans: frozenset[int]) -> bool:
        """Return whether what is asked can be told from such groups, though some of their members
        may not have all: with every position having each recipe that it may have."""
        some = {name for ban in bans for members, _ in self.bans[ban] for name in members}
        if not some:
            return True
        coded = self._coded()
        rows, shown = [], _shown(fixed, units.n)
        for place in _first_alike(units, some, fixed):
            to = {g.name: g.members[units.codes[g.name][place]] for g in units.groups}
            may = coded[self._allowed(bans, to)]
            rows.append(np.hstack([may, np.tile(shown[place], (len(may), 1))]))
        table = np.vstack(rows)
        own = int(np.linalg.matrix_rank(table[:, coded.shape[1] :]))
        return int(np.linalg.matrix_rank(table)) - own + 1 >= self.told

    # ---- what a whole group gets -----------------------------------------------------------------

    def _can_be_given(
        self, loose: Study, units: Units, bans: frozenset[int], wanted: list[int]
    ) -> bool:
        """Return whether versions can be given out so that no ban is broken and all is there."""
        applied = [f.applied_to for f in loose.factors]
        if not bans and not wanted:
            return True
        some_only = {name for ban in bans for members, _ in self.bans[ban] for name in members}
        if not any(applied) and units.n >= len(wanted) and not some_only:
            return True
        at_all = self._seats(units, applied, len(wanted), sorted(some_only))
        seats = list(at_all.values())
        number: dict[tuple[int, int], int] = {}  # (factor, unit) -> place among the choices
        for seat in seats:
            for key in enumerate(seat):
                number.setdefault(key, len(number))
        choices = [self.levels[factor] for factor, _ in number]

        def at(seat: tuple[int, ...], places: tuple[tuple[int, int], ...]) -> Together:
            return [(number[f, seat[f]], level) for f, level in places]

        never = [
            at(at_all[place], places)
            for members, places in (one for ban in bans for one in self.bans[ban])
            for place in np.flatnonzero(units.having(members)).tolist()
            if place in at_all
        ]
        some = [[at(seat, self.required[one]) for seat in seats] for one in wanted]
        some += [
            [at(seat, ((f, level),)) for seat in seats]
            for f, count in enumerate(self.levels)
            for level in range(count)
        ]
        return satisfiable(choices, never, some, effort=EFFORT) is not False

    def _seats(
        self, units: Units, applied: list[str | None], wanted: int, barred: list[str]
    ) -> dict[int, tuple[int, ...]]:
        """Return by position the unit of each factor; of items in the same units, and in the same
        members of the groups to which something is barred, only so many as could have to differ."""
        most = wanted + max(self.levels)
        alike: dict[tuple[int, ...], int] = {}
        out = {}
        for place in range(units.n):
            own = tuple(-1 if unit is None else int(units.codes[unit][place]) for unit in applied)
            key = (*own, *(int(units.codes[name][place]) for name in barred))
            alike[key] = alike.get(key, 0) + 1
            if alike[key] <= most:
                out[place] = tuple(unit if unit >= 0 else place for unit in own)
        return out


def _shown(fixed: list[Codes], n: int) -> Floats:
    """Return a column of ones, and a column for each member of some groups; (n, columns)."""
    return np.hstack([np.ones((n, 1)), *(np.eye(int(c.max()) + 1)[c] for c in fixed)])


def _differences(fixed: list[Codes], n: int) -> int:
    """Return how many differences between the members of some groups are taken out."""
    return int(np.linalg.matrix_rank(_shown(fixed, n))) - 1


def _first_alike(units: Units, some: set[str], fixed: list[Codes]) -> list[int]:
    """Return the first position of each kind: in the same members of these groups."""
    codes = [*(units.codes[name] for name in sorted(some)), *fixed]
    _, first = np.unique(np.stack(codes, axis=1), axis=0, return_index=True)
    return [int(place) for place in first]


_LOOSE_FACTOR: dict[str, str | None] = {"applied_to": None}


def _key(group: StudyGroup, key: str) -> Path:
    return ("groups", group.name, key)
