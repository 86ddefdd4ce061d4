"""The nearest possible plans to an impossible request: single changes, each of them tried.

A change is a few lines of study.toml. Of each kind the smallest that works is taken: the study with
it passes every check, and a layout for it is found the way plans are drawn.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from math import prod
from typing import TYPE_CHECKING, Any

from trials.design.demands import Demands
from trials.design.searched import asked_for
from trials.design.settling import try_out
from trials.design.treatments import amount, by_copies
from trials.errors import PlanError, StudyError, TrialsError
from trials.study import allowed_recipes, check_request, check_study, recipes, with_changes
from trials.study.bans import named_groups, written_out
from trials.study.check_groups import members_in_all

if TYPE_CHECKING:
    from trials.study import Study, StudyGroup

Keys = tuple[str, ...]
Edits = tuple[tuple[Keys, Any], ...]

MOST_TOLD = 5
MOST_LOOKED_AT = 60  # sizes of one kind that are held against the study's lines
MOST_DRAWN = 3  # of one kind that seemed possible
MOST_LISTED = 10_000  # recipes that are gone through for versions which none of them can have

# The price of a change that gives up part of what was asked; of one in number, its share.
UNPLEASANT = {"sizes_deleted": 0.1, "capacity": 0.05, "group": 0.05, "size": 0.02}
GIVEN_UP = {
    "ban": 0.3,
    "member_ban": 0.0,  # nothing of the comparison is lost where others can do that step
    "required": 0.3,
    "part": 0.45,
    "singly": 0.5,
    "level": 0.6,
    "part_singly": 0.7,
    "factor": 1.0,
}
MOST_OF_A_KIND = 2


@dataclass(frozen=True)
class Change:
    """A change that makes an impossible request possible.

    ``code``: the kind. ``what``: whose (factor, group). ``old`` and ``new``: the number that
    changes, or the version or combination that is given up as ``old``. ``edits``: keys of
    study.toml and their values, None to delete. ``items``: of the plan. ``asked``: the number of
    items to ask for beside study.toml; None: what the study says. ``price``: small is near.
    """

    code: str
    edits: Edits
    price: float
    what: str = ""
    old: Any = None
    new: Any = None
    items: int = 0
    asked: int | None = None
    at_once: bool = False  # asking for so many draws it, without the edits


def nearest_changes(study: Study, items: int | None = None) -> tuple[Change, ...]:
    """Return the smallest changes that make a study possible, the nearest first; none if it is.

    Parameters
    ----------
    study : as study.toml says it, though it may contradict itself.
    items : the number of items asked for beside it, if any.
    """
    return nearest_of(possible_changes(study, items))


def possible_changes(study: Study, items: int | None = None) -> tuple[Change, ...]:
    """Return of each kind the smallest change that makes a study possible; none if it is."""
    if _drawn(study, items) is not None:
        return ()
    kinds = (_first_possible(study, items, kind) for kind in _kinds(study, items))
    return tuple(change for change in kinds if change is not None)


def smallest_number(found: Sequence[Change]) -> int | None:
    """Return the smallest larger number of items that alone makes it possible; None: none does."""
    return next((one.items for one in found if one.code == "items" and one.new >= one.old), None)


def nearest_of(found: Sequence[Change]) -> tuple[Change, ...]:
    """Return the nearest of some changes, the nearest first, of each kind a few."""
    out: list[Change] = []
    for change in sorted(found, key=lambda change: (change.price, change.code, change.what)):
        alike = sum(one.code == change.code for one in out)
        if alike < MOST_OF_A_KIND and all(
            one.edits != change.edits or not one.edits for one in out
        ):
            out.append(change)
    return tuple(out[:MOST_TOLD])


def _first_possible(study: Study, items: int | None, kind: Iterator[Change]) -> Change | None:
    """Return the first change of a kind that works, with how many items it makes."""
    drawn = 0
    for change in islice(kind, MOST_LOOKED_AT):
        asked = change.asked if items is not None else None
        other = with_edits(study, change.edits)
        if other is None or not _seems_possible(other, asked):
            continue
        made = _drawn(other, asked)
        if made is not None:
            at_once = not change.edits or (
                items is None and change.asked is not None and _drawn(study, change.asked) == made
            )
            return replace(change, items=made, at_once=at_once)
        drawn += 1
        if drawn == MOST_DRAWN:
            return None
    return None


def with_edits(study: Study, edits: Edits) -> Study | None:
    """Return a study with some lines changed; None where they are no study's."""
    try:
        return with_changes(study, edits)
    except ValueError:
        return None


def _seems_possible(study: Study, items: int | None) -> bool:
    """Return whether nothing speaks against a study that is quickly seen."""
    try:
        check_request(study)
        return Demands(study, items).hold()
    except StudyError:
        return False
    except PlanError:  # too many recipes to tell
        return True


def _drawn(study: Study, items: int | None) -> int | None:
    """Return how many items a plan has; None where none can be drawn."""
    try:
        check_study(study)
        return try_out(study, items)
    except TrialsError:
        return None


def _kinds(study: Study, items: int | None) -> Iterator[Iterator[Change]]:
    """Yield each kind of change, and within it from small to large."""
    base = items if items is not None else _said(study)
    for up in (True, False):
        yield _numbers(study, items, base, up=up)
    for group in study.groups:
        yield from _of_group(study, group, items)
    for key, code in (("forbidden", "ban"), ("required", "required")):
        for place in range(len(getattr(study.limits, key))):
            yield iter([_without_combination(study, key, code, place, items)])
    yield iter(_less_asked(study, items))
    for factor in study.factors:
        if len(factor.levels) > 2:
            yield fewer_levels(study, factor.name, items)
    if len(study.factors) > 1:
        for factor in study.factors:
            yield iter([_without_factor(study, factor.name, items)])


# ---- numbers -------------------------------------------------------------------------------------


def _said(study: Study) -> int:
    """Return how many items a study asks for, possible or not."""
    limits = study.limits
    for group in study.groups:
        if group.sizes:
            return sum(group.sizes) * max(members_in_all(study, group.name) // len(group.sizes), 1)
    if limits.copies is not None and by_copies(study):
        return limits.copies * recipes(study)
    if limits.items is not None:
        return limits.items
    try:
        return amount(study).items
    except PlanError:
        return recipes(study)


def _numbers(study: Study, items: int | None, base: int, *, up: bool) -> Iterator[Change]:
    """Yield other numbers of items."""
    limits = study.limits
    sized = any(group.sizes for group in study.groups) and items is None
    each = max(recipes(study), 1)
    counted = items is None and by_copies(study)
    step = each if counted and not sized else 1
    old = base if limits.items is None else min(base, limits.items)
    if sized:
        numbers = range(base, base + 1) if up else range(0)
    elif up:
        first = base if counted else max(base, 1 if limits.fraction else each, asked_for(study))
        numbers = range(first, first + MOST_LOOKED_AT * step, step)
    else:
        numbers = range(base - step, 0, -step)
    for n in numbers:
        edits = _to_make(study, n, each if counted and not sized else None, items)
        if up and n == old and (items is not None or not edits):
            continue
        if not up and items is not None and edits:  # still more than can be made
            continue
        share = abs(n - old) / max(old, 1) if up else (base - n) / base
        yield Change("items", edits, share, old=old if up else base, new=n, asked=n)


def _to_make(study: Study, n: int, each: int | None, items: int | None) -> Edits:
    """Return what to write to get so many items."""
    limits = study.limits
    edits: list[tuple[Keys, Any]] = []
    if each is not None and n // each != limits.copies:
        edits.append((("limits", "copies"), n // each))
    more = limits.items is not None and n > limits.items
    if more or (items is None and each is None and n != limits.items):
        edits.append((("limits", "items"), n))
    return tuple(edits)


def _of_group(study: Study, group: StudyGroup, items: int | None) -> Iterator[Iterator[Change]]:
    """Yield changes of one group: its number, its room, its sizes."""
    if group.sizes:
        yield _sizes(study, group, items)
        loose: list[tuple[Keys, Any]] = [
            (("groups", group.name, "sizes"), None),
            (("groups", group.name, "count"), group.count),
        ]
        price = UNPLEASANT["sizes_deleted"]
        yield iter([Change("sizes_deleted", tuple(loose), price, what=group.name, asked=items)])
    if not group.members:
        for numbers in (
            range(group.count + 1, 4 * group.count + 20),
            range(group.count - 1, 0, -1),
        ):
            yield _changed_number(group, "count", numbers, items)
    if group.capacity is not None:
        numbers = range(group.capacity + 1, 4 * group.capacity + 20)
        yield _changed_number(group, "capacity", numbers, items)


def _changed_number(
    group: StudyGroup, key: str, numbers: Sequence[int], items: int | None
) -> Iterator[Change]:
    code = "group" if key == "count" else key
    old = getattr(group, key)
    for new in numbers:
        yield Change(
            code,
            ((("groups", group.name, key), new),),
            UNPLEASANT[code] + abs(new - old) / old,
            what=group.name,
            old=old,
            new=new,
            asked=items,
        )


def _sizes(study: Study, group: StudyGroup, items: int | None) -> Iterator[Change]:
    """Yield the sizes of a group with one changed, and the number of sizes there should be."""
    total = members_in_all(study, group.name)
    if len(group.sizes) not in (group.count, total) and total % group.count == 0:
        parents = total // group.count
        for count in (len(group.sizes), len(group.sizes) // parents):
            edits: Edits = ((("groups", group.name, "count"), count),)
            price = UNPLEASANT["group"] + abs(count - group.count) / group.count
            yield Change("group", edits, price, group.name, group.count, count, asked=items)
    within = study.group(group.within) if group.within else None
    if within is not None and within.sizes:
        around = within.sizes * (members_in_all(study, within.name) // len(within.sizes))
        shared = tuple(size for whole in around for size in _shared(whole, group.count))
        if min(shared) > 0:
            yield _resized(group, shared, items)
    longer = shorter = list(group.sizes)
    for _ in range(MOST_LOOKED_AT // 2):
        longer, shorter = _one_more(longer), _one_less(shorter)
        for sizes in (longer, shorter):
            if min(sizes) > 0:
                yield _resized(group, tuple(sizes), items)


def _resized(group: StudyGroup, sizes: tuple[int, ...], items: int | None) -> Change:
    edits = ((("groups", group.name, "sizes"), sizes),)
    old = group.sizes * (len(sizes) // len(group.sizes))
    by = sum(abs(a - b) for a, b in zip(sizes, old, strict=False))
    price = UNPLEASANT["size"] + by / max(sum(sizes), 1)
    return Change("size", edits, price, group.name, group.sizes, sizes, asked=items)


def _shared(whole: int, parts: int) -> list[int]:
    """Return a number shared out, the larger parts first.

    Examples
    --------
    >>> _shared(8, 3)
    [3, 3, 2]
    """
    return [whole // parts + (place < whole % parts) for place in range(parts)]


def _one_more(sizes: list[int]) -> list[int]:
    place = sizes.index(min(sizes))
    return [size + (at == place) for at, size in enumerate(sizes)]


def _one_less(sizes: list[int]) -> list[int]:
    place = sizes.index(max(sizes))
    return [size - (at == place) for at, size in enumerate(sizes)]


# ---- giving up part of what is asked -------------------------------------------------------------


def _without_combination(
    study: Study, key: str, code: str, place: int, items: int | None
) -> Change:
    combinations = list(getattr(study.limits, key))
    given_up = combinations.pop(place)
    edits = ((("limits", key), tuple(combinations) or None),)
    price = GIVEN_UP["member_ban" if code == "ban" and named_groups(study, given_up) else code]
    return Change(code, edits, price, old=given_up, asked=items)


def _less_asked(study: Study, items: int | None) -> list[Change]:
    """Return changes that leave recipes out, or ask nothing of what factors do together."""
    part: Edits = ((("limits", "fraction"), True),)
    singly: Edits = ((("analysis", "interactions"), 1),)
    ways = []
    if not study.limits.fraction:
        ways.append(("part", part))
    if study.analysis.interactions > 1 and len(study.factors) > 1:
        ways.append(("singly", singly))
        if not study.limits.fraction:
            ways.append(("part_singly", (*part, *singly)))
    return [Change(code, edits, GIVEN_UP[code], asked=items) for code, edits in ways]


def fewer_levels(study: Study, factor: str, items: int | None) -> Iterator[Change]:
    """Yield the study without one version of a factor, those first that can't be made anyway."""
    one = study.factor(factor)
    place = study.factors.index(one)
    made: set[int] = set()
    if prod(len(f.levels) for f in study.factors) <= MOST_LISTED:
        made = {recipe[place] for recipe in allowed_recipes(study)}
    order = sorted(range(len(one.levels)), key=lambda level: (level in made, -level))
    for level in order:
        name = one.levels[level]
        if name == one.control:
            continue
        edits: list[tuple[Keys, Any]] = [
            (("factors", factor, "levels"), tuple(v for v in one.levels if v != name))
        ]
        if name in one.how:
            edits.append((("factors", factor, "how", name), None))
        edits += _limits_without(study, factor, name)
        edits += _steps_without(study, "one_by_one", {name}, other_than=factor)
        price = GIVEN_UP["level"] + 0.1 / len(one.levels)
        yield Change("level", tuple(edits), price, factor, name, asked=items)


def _without_factor(study: Study, factor: str, items: int | None) -> Change:
    one = study.factor(factor)
    edits: list[tuple[Keys, Any]] = [(("factors", factor), None)]
    edits += _limits_without(study, factor)
    edits += _steps_without(study, "factors", {factor})
    edits += _steps_without(study, "one_by_one", set(one.levels), other_than=factor)
    price = GIVEN_UP["factor"] + len(one.levels) / 100
    return Change("factor", tuple(edits), price, factor, asked=items)


def _limits_without(study: Study, factor: str, level: str | None = None) -> list[tuple[Keys, Any]]:
    """Return the lists of combinations without those that speak of a factor, or of one level."""
    out: list[tuple[Keys, Any]] = []
    for key in ("forbidden", "required"):
        combinations = getattr(study.limits, key)
        kept = tuple(
            one
            for one in combinations
            if any(
                factor not in told or (level is not None and told[factor] != level)
                for told in written_out(study, one)
            )
        )
        if len(kept) < len(combinations):
            out.append((("limits", key), kept or None))
    return out


def _steps_without(
    study: Study, key: str, gone: set[str], other_than: str = ""
) -> list[tuple[Keys, Any]]:
    """Return the steps' lists without names that are gone; what another factor has too stays."""
    others = {
        level
        for factor in study.factors
        if other_than and factor.name != other_than
        for level in factor.levels
    }
    out: list[tuple[Keys, Any]] = []
    for step in study.steps:
        had = getattr(step, key)
        kept = tuple(name for name in had if name not in gone or name in others)
        if len(kept) < len(had):
            out.append((("steps", step.name, key), kept or None))
    return out
