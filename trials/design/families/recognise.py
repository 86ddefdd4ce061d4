"""What a plan is called: recognised by its properties, never by how it was made."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from trials.design.families.recipes import judge_recipes
from trials.design.families.seen import (
    Seen,
    indicator,
    kept_shares,
    lost_to,
    not_told,
    recipe_codes,
    terms_up_to,
)
from trials.design.families.values import Arrangement, Family, Recipes

if TYPE_CHECKING:
    from trials.design.factorials import Codes
    from trials.design.units import Units
    from trials.design.values import Plan, PlanFactor

MOST_TERMS = 127  # of whole factorials in blocks, all of whose terms are looked at


def name_family(units: Units, factors: Sequence[PlanFactor], layout: Mapping[str, Codes]) -> Family:
    """Return what kind of plan a layout is.

    Parameters
    ----------
    units : where every position belongs.
    factors : as the plan records them.
    layout : level codes of every factor, shape (n,).

    Examples
    --------
    >>> from trials.design.units import Units
    >>> from trials.design.values import PlanFactor
    >>> shape = PlanFactor(name="shape", levels=("a", "b"), unit="", kind="category",
    ...                    scale="linear", applied_to=None)
    >>> family = name_family(Units(4, (), {}), (shape,), {"shape": np.array([0, 1, 1, 0])})
    >>> family.name, family.textbook
    ('completely_randomised', 'completely randomised design')
    """
    seen = Seen(
        levels={factor.name: len(factor.levels) for factor in factors},
        codes={factor.name: layout[factor.name] for factor in factors},
        sites={
            f.name: None if f.applied_to is None else f.applied_to.split("/")[-1] for f in factors
        },
        groups={group.name: units.codes[group.name] for group in units.groups},
        above={group.name: units.above(group.name) for group in units.groups},
        control={f.name: f.levels.index(f.control) for f in factors if f.control in f.levels},
    )
    return recognise(seen)


def plan_family(plan: Plan) -> Family:
    """Return what kind of plan a drawn plan is."""
    from trials.design.shuffle import plan_layout, plan_units

    return name_family(plan_units(plan), plan.factors, plan_layout(plan))


def recognise(seen: Seen) -> Family:
    """Return the family of a layout: the same as :func:`name_family`, from plain arrays."""
    if not seen.names:
        return Family("completely_randomised", "none")
    sites = tuple(dict.fromkeys(seen.site(name) for name in seen.names))
    if len(sites) == 1:
        return _one_unit(seen.at(sites[0], seen.names))
    return _several_units(seen, sites)


def _blocks(seen: Seen) -> dict[str, Codes]:
    """Return the groups that hold several units, and are several."""
    out = {}
    for name, codes in seen.groups.items():
        members = len(np.unique(codes))
        if 1 < members < seen.n:
            out[name] = codes
    return out


def _counts(members: Codes, recipe: Codes) -> Codes:
    """Return how often each member (rows) holds each recipe (columns)."""
    rows = np.unique(members, return_inverse=True)[1].reshape(-1)
    columns = int(recipe.max()) + 1
    table = np.bincount(rows * columns + recipe, minlength=(int(rows.max()) + 1) * columns)
    return table.reshape(-1, columns).astype(np.intp)


def _is_whole(counts: Codes) -> bool:
    """Return whether every member holds the recipes in the same proportions."""
    meant = np.outer(counts.sum(axis=1), counts.sum(axis=0)) / counts.sum()
    return bool(np.allclose(counts, meant))


def _one_unit(seen: Seen) -> Family:
    """Return the family of factors that are all applied to the same kind of unit."""
    recipes = judge_recipes(seen)
    recipe, _ = recipe_codes(seen.table(seen.names))
    blocks = _blocks(seen)
    part = [name for name, codes in blocks.items() if not _is_whole(_counts(codes, recipe))]
    if not blocks:
        return _family("completely_randomised", recipes)
    pair = _latin_pair(seen, blocks, recipe) if recipes.kind == "one_factor" else None
    if pair is not None:
        return _family("latin_square", recipes, groups=pair)
    if not part:
        return _family("randomised_blocks", recipes, groups=tuple(blocks))
    if recipes.kind != "searched" and len(part) == 1:
        found = _incomplete(seen, recipes, part[0], blocks[part[0]])
        if found is not None:
            return found
    gone, partly = not_told(seen, terms_up_to(seen.names, 2), [blocks[name] for name in part])
    return Family(
        "searched",
        recipes.kind,
        gives_up=tuple(dict.fromkeys((*recipes.gives_up, *gone))),
        partly=partly,
        mixed=recipes.mixed,
        groups=tuple(part),
        incomplete=True,
        facts=recipes.facts,
    )


def _family(arrangement: Arrangement, recipes: Recipes, groups: tuple[str, ...] = ()) -> Family:
    return Family(
        arrangement,
        recipes.kind,
        gives_up=recipes.gives_up,
        partly=recipes.partly,
        mixed=recipes.mixed,
        groups=groups,
        facts=recipes.facts,
    )


def _latin_pair(seen: Seen, blocks: Mapping[str, Codes], recipe: Codes) -> tuple[str, str] | None:
    """Return two crossing groups of which each member of one holds every version just once."""
    versions = int(recipe.max()) + 1
    for row, column in combinations(blocks, 2):
        if row in seen.above.get(column, ()) or column in seen.above.get(row, ()):
            continue
        cells = _counts(blocks[row], np.unique(blocks[column], return_inverse=True)[1].reshape(-1))
        rows, columns = _counts(blocks[row], recipe), _counts(blocks[column], recipe)
        single = (rows == 1).all() or (columns == 1).all()
        if cells.max() == 1 and single and _is_whole(rows) and _is_whole(columns):
            sizes = {int(rows.sum(axis=1).max()), int(columns.sum(axis=1).max())}
            if all(size % versions == 0 for size in sizes):
                return row, column
    return None


def _incomplete(seen: Seen, recipes: Recipes, group: str, block: Codes) -> Family | None:
    """Return the family of recipes in blocks that hold some of them; None for none of the books."""
    recipe, listed = recipe_codes(seen.table(seen.names))
    counts = _counts(block, recipe)
    if recipes.kind == "one_factor":
        if not _is_balanced(counts):
            return None
        shares = kept_shares(indicator(recipe) - 1 / counts.shape[1], indicator(block))
        return Family(
            "incomplete_blocks",
            recipes.kind,
            groups=(group,),
            efficiency=float(shares[shares > 0].min()),
            incomplete=True,
        )
    if recipes.kind not in ("full_factorial", "fractional") or not _are_cosets(
        seen, counts, listed
    ):
        return None
    order = len(seen.names)
    if recipes.kind == "fractional" or 2**order - 1 > MOST_TERMS:
        order = min(order, 2)
    gone, partly, _ = lost_to(seen, terms_up_to(seen.names, order), [block])
    if any(":" not in term for term in (*gone, *partly)):
        return None
    return Family(
        "confounded",
        recipes.kind,
        gives_up=tuple(dict.fromkeys((*recipes.gives_up, *gone))),
        partly=partly,
        mixed=recipes.mixed,
        groups=(group,),
        facts=recipes.facts,
    )


def _is_balanced(counts: Codes) -> bool:
    """Return whether blocks of one size hold every two versions together equally often."""
    together = counts.T @ counts
    apart = together[~np.eye(len(together), dtype=bool)]
    return (
        int(counts.max()) == 1
        and len(set(counts.sum(axis=1).tolist())) == 1
        and len(set(np.diag(together).tolist())) == 1
        and len(set(apart.tolist())) == 1
    )


def _are_cosets(seen: Seen, counts: Codes, recipes: Codes) -> bool:
    """Return whether every block is a shifted closed set of recipes, modulo the levels."""
    levels = set(seen.levels.values())
    if len(levels) != 1 or len(set(counts[counts > 0].tolist())) > 1:
        return False
    (modulus,) = levels
    for row in counts:
        inside = recipes[row > 0]
        known = {one.tobytes() for one in np.ascontiguousarray(inside)}
        moved = (inside[:, None] + inside[None, :] - inside[0]) % modulus
        if any(
            one.tobytes() not in known
            for one in np.ascontiguousarray(moved.reshape(-1, moved.shape[2]))
        ):
            return False
    return True


def _several_units(seen: Seen, sites: tuple[str | None, ...]) -> Family:
    """Return the family of factors on units of different sizes."""
    parts = {site: tuple(n for n in seen.names if seen.site(n) == site) for site in sites}
    recipes = {site: judge_recipes(seen.at(site, names)) for site, names in parts.items()}
    whole = judge_recipes(Seen(levels=seen.levels, codes=seen.codes, control=seen.control))
    nested = all(
        one is None or other is None or one in seen.above.get(other, ())
        or other in seen.above.get(one, ())
        for one, other in combinations(sites, 2)
    )  # fmt: skip
    gaps = [_lacking(seen, site, names) for site, names in parts.items()]
    inside = _lost_inside(seen, parts) if any(gaps) else ()
    fair = all(one.kind != "searched" for one in recipes.values()) and whole.kind != "searched"
    gone, partly = (whole.gives_up, ()) if fair else not_told(seen, terms_up_to(seen.names, 2), ())
    return Family(
        "split_plot" if nested else "criss_cross",
        whole.kind if fair else "searched",
        gives_up=tuple(dict.fromkeys((*gone, *inside))),
        partly=partly,
        mixed=whole.mixed,
        groups=tuple(site for site in sites if site is not None),
        incomplete=any(gaps),
        facts=whole.facts,
    )


def _lacking(seen: Seen, site: str | None, names: Sequence[str]) -> bool:
    """Return whether some larger unit that carries a factor lacks some of these recipes."""
    recipe, _ = recipe_codes(seen.table(names))
    larger = {seen.site(name) for name in seen.names if seen.site(name) in seen.holding(site)} - {
        site,
        None,
    }
    return any(
        not _is_whole(_counts(seen.groups[group], recipe)) for group in larger if group is not None
    )


def _lost_inside(seen: Seen, parts: Mapping[str | None, tuple[str, ...]]) -> tuple[str, ...]:
    """Return terms of the smaller units' factors that can't be told within the larger units."""
    out: list[str] = []
    for site, names in parts.items():
        larger = [seen.groups[g] for g in seen.holding(site) if g in parts]
        if not larger:
            continue
        outside = {n for n in seen.names if seen.site(n) in seen.holding(site)}
        terms = [t for t in terms_up_to(seen.names, 2) if set(t) & set(names)]
        gone, _ = not_told(seen, [t for t in terms if set(t) <= {*names, *outside}], larger)
        out += gone
    return tuple(out)
