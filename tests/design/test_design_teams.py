"""Who makes what, held against every way of giving it out: classes small enough to try them all.

Of all layouts in which each recipe is made equally often (one apart where that doesn't come out), a
drawn plan is one of those in which teams meet the most versions, and each as evenly as can be.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import cache
from itertools import combinations, product

import pytest

from tests.design.unchecked import draw
from trials.design import Plan
from trials.study import Limits, Response, Study, StudyFactor, StudyGroup

Recipe = tuple[int, ...]
Contents = tuple[tuple[Recipe, ...], ...]  # what each team makes

# levels of each factor, teams, items
CASES = [
    ((2, 2), 2, 8),
    ((2, 2), 3, 8),
    ((2, 2), 4, 8),
    ((2, 2), 3, 12),
    ((3,), 2, 6),
    ((3,), 3, 9),
    ((3,), 4, 9),
    ((4,), 3, 8),
    ((4,), 5, 10),
    ((2, 3), 2, 6),
    ((2, 3), 3, 6),
    ((2, 3), 3, 9),
    ((2, 3), 4, 12),
    ((2, 2, 2), 2, 8),
    ((2, 2, 2), 3, 8),
    ((5,), 3, 7),
]


def study(levels: Recipe, teams: int, items: int, never: tuple[int, int] | None = None) -> Study:
    return Study(
        title="t",
        question="q",
        factors=tuple(
            StudyFactor(name=f"f{at}", levels=tuple("abcdefgh"[:count]), shared=False)
            for at, count in enumerate(levels)
        ),
        groups=(StudyGroup(name="team", count=teams, role="maker"),),
        responses=(Response(name="y", primary=True),),
        limits=Limits(
            items=items,
            forbidden=()
            if never is None
            else ({"team": str(never[0] + 1), "f0": "abcdefgh"[never[1]]},),
        ),
    )


def contents(plan: Plan) -> Contents:
    made: dict[str, list[Recipe]] = {member: [] for member in plan.groups[0].members}
    for row in plan.rows:
        recipe = tuple(f.levels.index(row.factors[f.name]) for f in plan.factors)
        made[row.groups["team"]].append(recipe)
    return tuple(tuple(sorted(recipes)) for recipes in made.values())


def every(recipes: Counter[Recipe], sizes: tuple[int, ...]) -> Iterator[Contents]:
    """Yield every way of giving recipes out to teams of these sizes, order within a team apart."""
    if not sizes:
        yield ()
        return
    for mine in chosen(tuple(sorted(recipes.items())), sizes[0]):
        for others in every(recipes - Counter(mine), sizes[1:]):
            yield (mine, *others)


@cache
def chosen(left: tuple[tuple[Recipe, int], ...], size: int) -> tuple[tuple[Recipe, ...], ...]:
    """Return every multiset of ``size`` recipes of those that are left."""
    if not left:
        return ((),) if size == 0 else ()
    recipe, most = left[0]
    return tuple(
        (recipe,) * times + rest
        for times in range(min(most, size) + 1)
        for rest in chosen(left[1:], size - times)
    )


def met(made: Contents) -> int:
    """Count the versions that teams meet, of all factors."""
    return sum(len({r[at] for r in mine}) for mine in made for at in range(len(made[0][0])))


def uneven(made: Contents, levels: Recipe) -> int:
    """Add up the squares of how often each team makes each version."""
    return sum(
        Counter(r[at] for r in mine)[level] ** 2
        for mine in made
        for at, count in enumerate(levels)
        for level in range(count)
    )


def alternatives(levels: Recipe, sizes: tuple[int, ...]) -> Iterator[Contents]:
    """Yield every layout in which each recipe is made equally often, and each version too."""
    recipes = list(product(*map(range, levels)))
    whole, extra = divmod(sum(sizes), len(recipes))
    for more in combinations(recipes, extra):
        made = Counter(recipes * whole + list(more))
        fair = True
        for at, count in enumerate(levels):
            each = [sum(n for r, n in made.items() if r[at] == k) for k in range(count)]
            fair &= max(each) - min(each) <= 1
        if fair:
            yield from every(made, sizes)


@pytest.mark.parametrize(("levels", "teams", "items"), CASES)
def test_teams_meet_as_many_versions_as_any_layout_gives_them(
    levels: Recipe, teams: int, items: int
) -> None:
    plan = draw(study(levels, teams, items), seed=items)
    made = contents(plan)
    sizes = tuple(len(mine) for mine in made)
    assert max(sizes) - min(sizes) <= 1
    layouts = list(alternatives(levels, sizes))
    assert made in layouts
    assert met(made) == max(met(one) for one in layouts)
    assert uneven(made, levels) == min(uneven(one, levels) for one in layouts)


@pytest.mark.parametrize(
    ("levels", "teams", "items"),
    [((2,), 3, 9), ((2,), 4, 12), ((3,), 3, 9), ((2, 2), 3, 12), ((2, 3), 3, 12)],
)
def test_what_one_team_may_not_make_the_others_share_as_evenly_as_can_be(
    levels: Recipe, teams: int, items: int
) -> None:
    plan = draw(study(levels, teams, items, never=(1, 0)), seed=items)
    made = contents(plan)
    assert not any(recipe[0] == 0 for recipe in made[1])
    given = Counter(recipe for mine in made for recipe in mine)
    assert max(given.values()) - min(given.values()) <= 1
    layouts = [
        one
        for one in every(given, tuple(len(mine) for mine in made))
        if not any(recipe[0] == 0 for recipe in one[1])
    ]
    assert made in layouts
    assert met(made) == max(met(one) for one in layouts)
    assert uneven(made, levels) == min(uneven(one, levels) for one in layouts)
