"""Which kind of set the recipes are: judged by the recipes, not by how they were chosen."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from trials.design.factorials import Codes
from trials.design.families.checks import pair_terms
from trials.design.families.fractions import alias_sets, numeral, words_of_columns
from trials.design.families.seen import Seen, not_told, recipe_codes, terms_up_to
from trials.design.families.values import Recipes


def judge_recipes(seen: Seen) -> Recipes:
    """Return what kind of set the recipes of some units are."""
    if not seen.names:
        return Recipes("none")
    place, recipes = recipe_codes(seen.table(seen.names))
    counts = np.bincount(place)
    if len(seen.names) == 1:
        return _one_factor(seen, counts)
    fair = int(counts.max() - counts.min()) <= 1
    if fair and len(recipes) == np.prod(list(seen.levels.values())):
        sizes = " x ".join(str(count) for count in seen.levels.values())
        return Recipes("full_factorial", facts=(("levels", sizes),))
    if int(counts.max()) == int(counts.min()) and set(seen.levels.values()) == {2}:
        columns = regular_columns(recipes)
        if columns is not None and len(set(columns)) == len(columns) and all(columns):
            return _fraction(seen.names, columns, len(recipes))
        if pairwise_balanced(recipes, (2,) * len(seen.names)) and len(recipes) % 4 == 0:
            return Recipes(
                "plackett_burman",
                gives_up=pair_terms(seen.names),
                facts=(("runs", str(len(recipes))),),
            )
    gone, partly = not_told(seen, terms_up_to(seen.names, 2), ())
    return Recipes("searched", gives_up=gone, partly=partly)


def _one_factor(seen: Seen, counts: Codes) -> Recipes:
    (name,) = seen.names
    if len(counts) < seen.levels[name]:
        return Recipes("searched", partly=seen.names)
    control = seen.control.get(name)
    if control is not None:
        others = np.delete(counts, control)
        if counts[control] > others.max() and others.max() - others.min() <= 1:
            return Recipes("with_control")
    if counts.max() - counts.min() <= 1:
        return Recipes("one_factor")
    return Recipes("searched")


def _fraction(names: Sequence[str], columns: Sequence[int], runs: int) -> Recipes:
    mixed = alias_sets(names, columns)
    touched = {term for terms in mixed for term in terms}
    size = min(word.bit_count() for word in words_of_columns(columns))
    power = len(names) - (runs.bit_length() - 1)
    return Recipes(
        "fractional",
        gives_up=tuple(pair for pair in pair_terms(names) if pair in touched),
        mixed=mixed,
        facts=(
            ("fraction", f"2^({len(names)}-{power})"),
            ("resolution", numeral(size)),
            ("runs", str(runs)),
        ),
    )


def regular_columns(recipes: Codes) -> tuple[int, ...] | None:
    """Return the columns of a two-level fraction as bit masks; None if it has no such columns.

    A set of recipes has them if it is closed: the sum of any three recipes, modulo 2, is one.

    Examples
    --------
    >>> regular_columns(np.array([[0, 0, 1], [0, 1, 0], [1, 0, 0], [1, 1, 1]]))
    (1, 2, 3)
    """
    runs = len(recipes)
    if runs & (runs - 1):
        return None
    moved = recipes ^ recipes[0]
    known = {row.tobytes() for row in np.ascontiguousarray(moved)}
    basis: list[Codes] = []
    span = [np.zeros(recipes.shape[1], dtype=recipes.dtype)]
    reached = {span[0].tobytes()}
    for row in moved[::-1]:  # from the last, so that the first factors become single columns
        if row.tobytes() in reached:
            continue
        if len(span) == runs:
            return None
        span += [other ^ row for other in span]
        reached = {one.tobytes() for one in span}
        basis.append(row)
    if reached != known:
        return None
    steps = _echelon(np.array(basis, dtype=np.intp))
    return tuple(sum(int(bit) << place for place, bit in enumerate(column)) for column in steps.T)


def _echelon(basis: Codes) -> Codes:
    """Return the reduced echelon form over two elements, so that each step has its own factor."""
    rows = basis.copy()
    done = 0
    for column in range(rows.shape[1]):
        below = np.flatnonzero(rows[done:, column]) + done
        if not len(below):
            continue
        rows[[done, below[0]]] = rows[[below[0], done]]
        for row in range(len(rows)):
            if row != done and rows[row, column]:
                rows[row] ^= rows[done]
        done += 1
        if done == len(rows):
            break
    return rows


def pairwise_balanced(table: Codes, levels: Sequence[int]) -> bool:
    """Return whether every two columns hold all their combinations equally often."""
    for one, other in combinations(range(len(levels)), 2):
        cells = levels[one] * levels[other]
        joint = np.bincount(table[:, one] * levels[other] + table[:, other], minlength=cells)
        if len(set(joint.tolist())) > 1:
            return False
    return True
