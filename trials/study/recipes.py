"""Recipes: which combinations of levels may be made, and which have to be."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import product

from trials.study.bans import Combination, named_groups, recipe_bans
from trials.study.values import Study

MOST_RECIPES = 100_000  # that are looked at one by one


def recipes(study: Study) -> int:
    """Return how many different recipes may be made.

    Examples
    --------
    >>> from trials.study.values import Limits, StudyFactor
    >>> factors = (
    ...     StudyFactor(name="a", levels=("1", "2", "3")), StudyFactor(name="b", levels=("x", "y")))
    >>> recipes(Study(title="t", question="q", responses=(), factors=factors))
    6
    >>> limits = Limits(forbidden=({"a": "1", "b": "y"},))
    >>> recipes(Study(title="t", question="q", responses=(), factors=factors, limits=limits))
    5
    """
    if not recipe_bans(study):
        return math.prod(len(factor.levels) for factor in study.factors)
    return sum(1 for _ in allowed_recipes(study))


def allowed_recipes(study: Study) -> Iterator[tuple[int, ...]]:
    """Yield the recipes that some item may have, as one index of a level for each factor."""
    yield from _allowed(study, recipe_bans(study))


def _allowed(study: Study, forbidden: Sequence[Combination]) -> Iterator[tuple[int, ...]]:
    never = [_places(study, combination) for combination in forbidden]
    for recipe in product(*(range(len(factor.levels)) for factor in study.factors)):
        if not any(all(recipe[f] == level for f, level in places) for places in never):
            yield recipe


def _places(study: Study, combination: Combination) -> tuple[tuple[int, int], ...]:
    names = [factor.name for factor in study.factors]
    return tuple(
        (names.index(name), study.factor(name).levels.index(level))
        for name, level in combination.items()
    )


def holds(study: Study, recipe: Sequence[int], combination: Combination) -> bool:
    """Return whether a recipe has all the levels of a combination."""
    return all(recipe[factor] == level for factor, level in _places(study, combination))


def without_recipe(study: Study) -> tuple[str, str, tuple[int, ...]] | None:
    """Return a level that may not be made at all, and the fewest bans that see to it.

    The bans are given by their places in ``limits.forbidden``.
    """
    seen: list[set[int]] = [set() for _ in study.factors]
    for recipe in allowed_recipes(study):
        for found, level in zip(seen, recipe, strict=True):
            found.add(level)
    for place, factor in enumerate(study.factors):
        for level, name in enumerate(factor.levels):
            if level not in seen[place]:
                return factor.name, name, _fewest_bans(study, place, level)
    return None


def _fewest_bans(study: Study, factor: int, level: int) -> tuple[int, ...]:
    """Leave out one ban after another as long as the level stays impossible."""
    bans = study.limits.forbidden
    kept = [place for place, ban in enumerate(bans) if not named_groups(study, ban)]
    for ban in tuple(kept):
        fewer = [other for other in kept if other != ban]
        possible = _allowed(study, [bans[other] for other in fewer])
        if not any(recipe[factor] == level for recipe in possible):
            kept = fewer
    return tuple(kept)
