"""A structure filled with the labels of actual rows: which row has which level, in which group."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np
import numpy.typing as npt

from trials.errors import AnalysisError
from trials.model.structure import Factor, Group, Structure

Floats = npt.NDArray[np.float64]
Codes = npt.NDArray[np.intp]

FEW_MEMBERS = 6  # a group with fewer and no factor applied to it is fixed


@dataclass(frozen=True)
class Coded:
    """One column of labels as codes into its levels; ``codes`` has shape (n,)."""

    levels: tuple[str, ...]
    codes: Codes

    @property
    def counts(self) -> Codes:
        """How many rows each level has, shape (len(levels),)."""
        return np.bincount(self.codes, minlength=len(self.levels)).astype(np.intp)


@dataclass(frozen=True)
class Grouping:
    """One grouping of the rows: declared, or implied by two that cross."""

    path: str  # "session/firing"; crossings are "team:session"
    coded: Coded
    random: bool
    implied: bool = False

    @property
    def members(self) -> int:
        """How many members it has."""
        return len(self.coded.levels)


@dataclass(frozen=True)
class Layout:
    """Rows with their levels and groups.

    ``groupings`` run from large to small. ``units`` gives each factor's unit as the path of a
    grouping, or None where the unit is the row itself. ``notes`` tells what was left out or found.
    """

    structure: Structure
    n: int
    factors: Mapping[str, Coded]
    groupings: tuple[Grouping, ...]
    units: Mapping[str, str | None]
    covariates: Mapping[str, Floats] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    item: str | None = None  # grouping whose members are the items, where rows are readings

    @property
    def random(self) -> tuple[Grouping, ...]:
        """The groupings whose members are taken as a sample."""
        return tuple(g for g in self.groupings if g.random)

    @property
    def fixed(self) -> tuple[Grouping, ...]:
        """The groupings whose members stand for themselves."""
        return tuple(g for g in self.groupings if not g.random)

    def grouping(self, path: str) -> Grouping:
        """Return the grouping of that path; KeyError if there is none."""
        for grouping in self.groupings:
            if grouping.path == path:
                return grouping
        raise KeyError(path)

    def values(self, factor: str) -> Floats:
        """Return the numbers of a quantity's levels on its scale, shape (levels,)."""
        spec = self.structure.factor(factor)
        numbers = np.array([float(level) for level in self.factors[factor].levels])
        return np.log(numbers) if spec.scale == "log" else numbers


def make_layout(
    structure: Structure,
    columns: Mapping[str, Sequence[str]],
    *,
    covariates: Mapping[str, Floats] | None = None,
    random: Iterable[str] = (),
    item: str | None = None,
) -> Layout:
    """Fill a structure with columns of labels.

    Parameters
    ----------
    columns : a label for each of the n rows, for every factor and every part of a group's path.
    covariates : measured numbers, each of shape (n,).
    random : paths of groups to take as random, or ``"all"``.
    item : column that names the item when several rows are readings of one.

    Raises
    ------
    AnalysisError : a column is missing, of another length, or has an empty label; a covariate is
        not finite.

    Examples
    --------
    >>> rows = {"block": list("aabb"), "feed": list("xyxy")}
    >>> layout = make_layout(Structure(["feed"], ["block"]), rows)
    >>> layout.n, layout.units["feed"], layout.groupings[0].random
    (4, None, False)
    """
    n = _rows(structure, columns, item)
    _refuse_endless(covariates or {})
    factors = {f.name: _code_factor(f, columns[f.name]) for f in structure.factors}
    groups = list(structure.groups)
    if item is not None:
        groups.append(Group(item, random=True))
    declared = {g.path: _code_path(g, columns) for g in groups}
    if item is not None:
        _one_group_an_item(declared, item)
        _constant_in_item(factors, declared[item], item)
    found, notes = _distinct({**declared, **_crossings(declared)}, n, set(declared))
    units = {f.name: _unit(f.name, structure, factors[f.name], found) for f in structure.factors}
    wanted = {g.path: g.random for g in groups}
    chosen = set(random)
    shared = dict.fromkeys(units.values())
    notes += tuple(f"unit_is_random:{p}" for p in shared if wanted.get(p or "") is False)
    names = {structure.full_path(name) for name in chosen if name != "all" and name not in found}
    forced = (chosen | names) if "all" not in chosen else set(found)
    groupings = tuple(
        Grouping(
            path,
            coded,
            _is_random(path, coded, units, wanted.get(path), path in forced),
            implied=path not in declared,
        )
        for path, coded in sorted(found.items(), key=lambda entry: len(entry[1].levels))
    )
    held = item if item in found else None
    return Layout(structure, n, factors, groupings, units, covariates or {}, notes, held)


def _refuse_endless(covariates: Mapping[str, Floats]) -> None:
    """Refuse covariates that are no finite numbers."""
    for name, numbers in covariates.items():
        bad = np.flatnonzero(~np.isfinite(numbers))
        if len(bad):
            raise AnalysisError(
                "A covariate is not a finite number.",
                code="table.not_finite",
                where=f"column {name}, row {int(bad[0]) + 1} of the data",
                do="Correct the value or take the row out and say why.",
            )


def part_of(layout: Layout, rows: Codes) -> Layout:
    """Return the layout of some of its rows, groups fixed or random as they were in the whole.

    Levels and members that no row is left of are gone. So are groups of one row a member, of one
    member in all, or that group the rows as another does, as in :func:`make_layout`.

    Examples
    --------
    >>> columns = {"block": list("aabbcc"), "feed": list("xyxyxy")}
    >>> whole = make_layout(Structure(["feed"], ["block"]), columns, random=["block"])
    >>> part = part_of(whole, np.array([0, 1, 4, 5]))
    >>> part.n, part.groupings[0].coded.levels, part.groupings[0].random
    (4, ('a', 'c'), True)
    """
    declared_first = sorted(layout.groupings, key=lambda g: g.implied)
    left = {g.path: _coded_part(g.coded, rows) for g in declared_first}
    stands_for: dict[str, str | None] = {}
    kept: dict[bytes, str] = {}
    for path, coded in left.items():
        if len(coded.levels) in (1, len(rows)):
            stands_for[path] = None
        else:
            stands_for[path] = kept.setdefault(partition_key(coded.codes), path)
    units = {f: None if u is None else stands_for[u] for f, u in layout.units.items()}
    groupings = tuple(
        replace(g, coded=left[g.path], random=g.random or g.path in units.values())
        for g in sorted(layout.groupings, key=lambda g: len(left[g.path].levels))
        if stands_for[g.path] == g.path
    )
    item = layout.item if layout.item in kept.values() else None
    return replace(
        layout,
        n=len(rows),
        factors={name: _coded_part(coded, rows) for name, coded in layout.factors.items()},
        groupings=groupings,
        units=units,
        covariates={name: numbers[rows] for name, numbers in layout.covariates.items()},
        item=item,
    )


def _coded_part(coded: Coded, rows: Codes) -> Coded:
    codes = coded.codes[rows]
    seen = np.bincount(codes, minlength=len(coded.levels)) > 0
    levels = tuple(level for level, there in zip(coded.levels, seen, strict=True) if there)
    return Coded(levels, (np.cumsum(seen) - 1)[codes].astype(np.intp))


def _one_group_an_item(declared: Mapping[str, Coded], item: str) -> None:
    """Refuse item codes that stand in several members of a group that holds several items."""
    codes = declared[item].codes
    for path, coded in declared.items():
        lies_inside = is_constant_within(codes, coded.codes)
        if path == item or lies_inside or is_constant_within(coded.codes, codes):
            continue
        pairs = np.unique(np.stack([codes, coded.codes], axis=1), axis=0)
        twice = int(np.flatnonzero(np.bincount(pairs[:, 0]) > 1)[0])
        there = [coded.levels[place] for place in pairs[pairs[:, 0] == twice, 1]]
        raise AnalysisError(
            "One item stands in several groups of a kind, so it may be several items.",
            code="structure.item_in_two_groups",
            where=f"item column {item}, group {path}",
            found=f"{declared[item].levels[twice]} in {', '.join(there[:4])}",
            do=f"If the codes start again in each {path.split('/')[-1]}, give every item a code of "
            "its own, such as group and number. If the same item was read there several times, "
            f"name the column as a group ({item}) instead of as the item.",
        )


def _constant_in_item(factors: Mapping[str, Coded], items: Coded, item: str) -> None:
    for name, coded in factors.items():
        if not is_constant_within(coded.codes, items.codes):
            raise AnalysisError(
                "A factor changes between the readings of one item.",
                code="structure.factor_varies",
                where=f"factor {name}, item column {item}",
                do="If each version was tried on the same thing, name that column as a group "
                "instead; if not, correct the labels of the items.",
            )


def _is_random(
    path: str,
    coded: Coded,
    units: Mapping[str, str | None],
    declared: bool | None,
    forced: bool,
) -> bool:
    """Apply the rule: units of a factor are random, always; fewer than six members are fixed."""
    if forced or path in units.values():
        return True
    if declared is not None:
        return declared
    return len(coded.levels) >= FEW_MEMBERS


def _rows(structure: Structure, columns: Mapping[str, Sequence[str]], item: str | None) -> int:
    needed = [f.name for f in structure.factors]
    needed += [part for g in structure.groups for part in g.parts]
    needed += [item] if item is not None else []
    missing = sorted({name for name in needed if name not in columns})
    if missing:
        raise AnalysisError(
            "A column is missing.",
            code="table.column_missing",
            found=", ".join(sorted(columns)),
            allowed=", ".join(missing),
            do="Add the column, or mend the spelling of the name.",
        )
    lengths = {len(columns[name]) for name in needed}
    if len(lengths) > 1:
        raise AnalysisError(
            "The columns have different lengths.",
            code="table.lengths_differ",
            found=", ".join(str(length) for length in sorted(lengths)),
            do="Give every column one label a row.",
        )
    for name in needed:
        for row, label in enumerate(columns[name]):
            if not str(label).strip():
                raise AnalysisError(
                    "A label is empty.",
                    code="table.label_empty",
                    where=f"column {name}, row {row + 1} of the data",
                    do="Fill in the label, or take the row out and say why.",
                )
    return lengths.pop() if lengths else max((len(c) for c in columns.values()), default=0)


def _code_factor(factor: Factor, labels: Sequence[str]) -> Coded:
    seen = tuple(dict.fromkeys(str(label) for label in labels))
    if factor.kind == "quantity":
        for level in seen:
            _check_number(factor, level)
        seen = tuple(sorted(seen, key=float))
    elif factor.levels is None:
        seen = tuple(sorted(seen, key=natural))
    if factor.levels is not None:
        unknown = [level for level in seen if level not in factor.levels]
        if unknown:
            raise AnalysisError(
                "A label is not among the levels of its factor.",
                code="table.unknown_level",
                where=f"column {factor.name}",
                found=", ".join(unknown),
                allowed=", ".join(factor.levels),
                do="Mend the spelling, or declare the level.",
            )
        seen = tuple(level for level in factor.levels if level in seen)
    return _code(labels, seen)


def natural(label: str) -> tuple[tuple[bool, float, str], ...]:
    """Return a key that sorts labels as people do: by letters, and by number inside them.

    Examples
    --------
    >>> sorted(["pot 10", "pot 9", "0.5", "none"], key=natural)
    ['0.5', 'none', 'pot 9', 'pot 10']
    """
    pieces = re.split(r"(\d+(?:\.\d+)?)", label.casefold())
    return tuple(
        (False, float(piece), "") if place % 2 else (True, 0.0, piece)
        for place, piece in enumerate(pieces)
        if piece
    )


def _check_number(factor: Factor, level: str) -> None:
    try:
        number = math.nan if "_" in level else float(level)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise AnalysisError(
            "A factor declared as a number has a level that is none.",
            code="table.level_not_a_number",
            where=f"column {factor.name}",
            found=level,
            allowed="a number such as 3.2 or 4e-3",
            do="Take the factor as a category, or write its levels as plain numbers.",
        )
    if factor.scale == "log" and number <= 0:
        raise AnalysisError(
            "A factor on a log scale has a level that isn't above zero.",
            code="table.level_not_positive",
            where=f"column {factor.name}",
            found=level,
            allowed="numbers above 0",
            do="Take the factor on its own scale, or correct the level.",
        )


def _code(labels: Sequence[str], levels: tuple[str, ...]) -> Coded:
    index = {level: code for code, level in enumerate(levels)}
    return Coded(levels, np.array([index[str(label)] for label in labels], dtype=np.intp))


def _code_path(group: Group, columns: Mapping[str, Sequence[str]]) -> Coded:
    parts = [columns[part] for part in group.parts]
    labels = ["/".join(str(label) for label in row) for row in zip(*parts, strict=True)]
    return _code(labels, tuple(dict.fromkeys(labels)))


def _nested(inner: str, outer: str) -> bool:
    return inner == outer or inner.startswith(outer + "/")


def _crossings(declared: Mapping[str, Coded]) -> dict[str, Coded]:
    """Return the joint groupings of declared groups that cross (none nested in another)."""
    out: dict[str, Coded] = {}
    for size in range(2, len(declared) + 1):
        for paths in combinations(declared, size):
            if any(_nested(a, b) or _nested(b, a) for a, b in combinations(paths, 2)):
                continue
            out[":".join(paths)] = _joint([declared[path] for path in paths])
    return out


def _joint(parts: Sequence[Coded]) -> Coded:
    labels = [
        ":".join(part.levels[code] for part, code in zip(parts, row, strict=True))
        for row in zip(*(part.codes for part in parts), strict=True)
    ]
    return _code(labels, tuple(dict.fromkeys(labels)))


def partition_key(codes: Codes) -> bytes:
    """Return a key that is equal for two groupings exactly if they group the same rows together.

    Examples
    --------
    >>> partition_key(np.array([0, 0, 1])) == partition_key(np.array([5, 5, 2]))
    True
    """
    _, first, inverse = np.unique(codes, return_index=True, return_inverse=True)
    order = np.argsort(np.argsort(first))
    return order[inverse].astype(np.int64).tobytes()


def _distinct(
    groupings: Mapping[str, Coded], n: int, declared: set[str]
) -> tuple[dict[str, Coded], tuple[str, ...]]:
    """Keep one grouping of each kind; drop those of one row a member and of one member in all."""
    kept: dict[bytes, str] = {}
    notes: list[str] = []
    for path, coded in groupings.items():
        members = len(coded.levels)
        key = partition_key(coded.codes)
        if members == n and path in declared:
            notes.append(f"group_is_row:{path}")
        elif members == 1 and path in declared:
            notes.append(f"group_of_one:{path}")
        elif key in kept and path in declared:
            notes.append(f"group_same_as:{path}:{kept[key]}")
        if members not in (1, n) and key not in kept:
            kept[key] = path
    return {path: groupings[path] for path in kept.values()}, tuple(notes)


def is_constant_within(inner: Codes, outer: Codes) -> bool:
    """Return whether ``inner`` has one value in each member of ``outer``."""
    pairs = outer * (int(inner.max(initial=0)) + 1) + inner
    return len(np.unique(pairs)) == len(np.unique(outer))


def _unit(
    factor: str, structure: Structure, coded: Coded, groupings: Mapping[str, Coded]
) -> str | None:
    """Return the factor's unit: as declared, else the largest group in which it never varies."""
    declared = structure.unit_of(factor)
    if declared is not None and declared in groupings:
        if not is_constant_within(coded.codes, groupings[declared].codes):
            raise AnalysisError(
                "A factor changes within a group that it is said to be applied to.",
                code="structure.factor_varies",
                where=f"factor {factor}, group {declared}",
                do="Correct the labels, or say that the factor is applied to something smaller.",
            )
        return declared
    if declared is not None:
        return None  # the group has one row a member: the row itself is the unit
    fits = [
        (len(g.levels), path)
        for path, g in groupings.items()
        if is_constant_within(coded.codes, g.codes)
    ]
    return min(fits)[1] if fits else None
