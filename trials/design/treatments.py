"""What to make: the recipes, and how many items of each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trials.errors import PlanError
from trials.study import recipes
from trials.study.check_groups import members_in_all

if TYPE_CHECKING:
    from trials.study import Study

DEFAULT_COPIES = 2
PRACTICE_ITEMS = 4


@dataclass(frozen=True)
class Amount:
    """How many items to make.

    ``leftover`` counts the items beyond whole copies of all recipes: as many recipes get one more
    than the others.
    """

    items: int
    recipes: int

    @property
    def copies(self) -> int:
        """Items of each recipe that all recipes have."""
        return self.items // self.recipes

    @property
    def leftover(self) -> int:
        """Recipes that get one item more."""
        return self.items % self.recipes


def amount(study: Study, items: int | None = None) -> Amount:
    """Return how many items a study is to have.

    ``items`` if it is given, else copies of each recipe, else as many items as can be made, else
    what the groups hold, else two of each recipe.

    Raises
    ------
    PlanError : more recipes than items, or more items than can be made.

    Examples
    --------
    >>> from trials.study import Response, Study, StudyFactor
    >>> shape = StudyFactor(name="shape", levels=("x", "y", "z"))
    >>> study = Study(title="", question="", factors=(shape,),
    ...               responses=(Response(name="height"),))
    >>> amount(study, items=8)
    Amount(items=8, recipes=3)
    """
    each = recipes(study)
    limit = study.limits.items
    sized = _sized(study)
    if items is not None:
        _check_asked(items, limit)
        _check_sized(items, sized)
        count = items
    elif sized is not None:
        count = sized[1]
    elif study.limits.copies is not None and by_copies(study):
        count = study.limits.copies * each
        _check_copies(study, count, each)
    elif limit is not None:
        count = limit
    else:
        count = _unsaid(study, each)
    if count < each and not study.limits.fraction:
        raise PlanError(
            "There are more recipes than items, so some recipes would never be made.",
            code="plan.more_recipes_than_items",
            where="factors and [limits] in study.toml",
            found=f"{each} recipes ({_product(study)}) and {count} items",
            allowed=f"at least {each} items, better {2 * each}",
            do="Make more items, or change fewer things, or give one of them fewer versions; or "
            "write fraction = true under [limits], and some recipes are left out.",
        )
    return Amount(count, each)


def by_copies(study: Study) -> bool:
    """Return whether copies of each recipe say how many items: in a part of all recipes, items do.

    Sizes of groups, or a number asked for, come before either.
    """
    limits = study.limits
    return limits.copies is not None and not (limits.fraction and limits.items is not None)


def _sized(study: Study) -> tuple[str, int] | None:
    """Return a group that says how many items each member has, and how many that makes."""
    for group in study.groups:
        if group.sizes:
            times = members_in_all(study, group.name) // len(group.sizes)
            return group.name, sum(group.sizes) * times
    return None


def _check_sized(items: int, sized: tuple[str, int] | None) -> None:
    if sized is not None and items != sized[1]:
        raise PlanError(
            "That is not the number of items that the sizes of a group add up to.",
            code="plan.sizes_sum",
            where=f"--items against [groups.{sized[0]}] sizes in study.toml",
            found=f"{items} items",
            allowed=f"{sized[1]} items",
            do="Leave --items out, or change the sizes.",
        )


def _check_asked(items: int, limit: int | None) -> None:
    if items < 1:
        raise PlanError(
            "A plan needs at least one item.",
            code="plan.no_items",
            where="--items",
            found=str(items),
            allowed="a whole number from 1",
            do="Say how many items you want to make.",
        )
    if limit is not None and items > limit:
        raise PlanError(
            "That is more than the study says can be made.",
            code="plan.more_than_can_be_made",
            where="--items against [limits] items in study.toml",
            found=f"{items} items",
            allowed=f"at most {limit}",
            do="Ask for fewer, or raise items under [limits] if you can make more after all.",
        )


def _check_copies(study: Study, count: int, each: int) -> None:
    limit = study.limits.items
    if limit is None or count <= limit:
        return
    possible = limit // each
    nearest = (
        f"Set copies = {possible} ({possible * each} items), or raise items to {count}."
        if possible
        else f"Raise items to {count}, or change fewer things, or give one of them fewer versions."
    )
    raise PlanError(
        "So many copies of every recipe are more than can be made.",
        code="plan.more_than_can_be_made",
        where="[limits] in study.toml",
        found=f"{study.limits.copies} copies x {each} recipes = {count} items",
        allowed=f"at most {limit} items",
        do=nearest,
    )


def _unsaid(study: Study, each: int) -> int:
    """Return the number of items of a study that doesn't say: full groups, or two copies."""
    room = [held for held in (_room(study, group.name) for group in study.groups) if held]
    if room:
        whole = min(room) // each * each
        return whole or min(room)
    return PRACTICE_ITEMS if not study.factors else DEFAULT_COPIES * each


def _room(study: Study, name: str) -> int | None:
    group = study.group(name)
    return None if group.capacity is None else group.capacity * members_in_all(study, name)


def _product(study: Study) -> str:
    return " x ".join(f"{len(factor.levels)} {factor.name}" for factor in study.factors)
