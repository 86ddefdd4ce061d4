"""A plan made larger: by being repeated, or drawn anew where repeats would keep what it lacks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from trials.design.columns import Columns, columns_of, drawn_columns
from trials.design.searched import is_even
from trials.design.settling import deal
from trials.design.values import Plan
from trials.errors import PlanError
from trials.study import recipes

if TYPE_CHECKING:
    from trials.study import Study

MOST_ROWS = 2_000
SEARCHED = 24  # items up to which a plan drawn anew is the best found, not the first


def growing(study: Study, plan: Plan, unit: str | None) -> Iterator[str]:
    """Yield the groups that get more members: a factor's own, those that are full, what is within.

    Examples
    --------
    >>> from trials.design.draw import sketch
    >>> from trials.study import Response, Study, StudyFactor, StudyGroup
    >>> heat = StudyFactor(name="heat", levels=("low", "high"), applied_to="oven")
    >>> day, team = StudyGroup(name="day", count=2), StudyGroup(name="team", count=4)
    >>> oven = StudyGroup(name="oven", count=4, within="day", capacity=4)
    >>> study = Study(title="", question="", factors=(heat,), groups=(day, oven, team),
    ...               responses=(Response(name="y"),))
    >>> list(growing(study, sketch(study), None))
    ['oven']
    """
    roots = {unit, *(g.name for g in study.groups if g.capacity is not None or g.sizes)}
    for group in plan.groups:
        if roots & set(group.path.split("/")):
            yield group.name


def stacked(pieces: Sequence[tuple[str, Columns]], own: frozenset[str]) -> Columns:
    """Return the rows of all pieces; the groups named in ``own`` have members of theirs in each.

    Examples
    --------
    >>> one = {"day": ["Mon", "Tue"], "pot": ["A", "B"]}
    >>> stacked([("1", one), ("2", one)], frozenset(["pot"]))["pot"]
    ['A (1)', 'B (1)', 'A (2)', 'B (2)']
    """
    out: Columns = {}
    for mark, columns in pieces:
        for name, labels in columns.items():
            marked = [f"{label} ({mark})" for label in labels] if name in own else labels
            out.setdefault(name, []).extend(marked)
    return out


def grown(study: Study, plan: Plan, unit: str | None, times: int) -> Columns:
    """Return the rows of a plan so many times as large, for the sake of one unit.

    The plan is carried out so many times over. One that leaves recipes out, or makes some more
    often than others, would keep that fault however often it is repeated: it is drawn anew.
    """
    anew = grown_anew(study, plan, unit, times) if is_lopsided(study, plan) else None
    return repeated(study, plan, unit, times) if anew is None else anew


def grown_anew(study: Study, plan: Plan, unit: str | None, times: int) -> Columns | None:
    """Return the rows of a larger plan as :func:`drawn_larger`, for the sake of one unit."""
    return drawn_larger(study, plan, frozenset(growing(study, plan, unit)), times)


def repeated(study: Study, plan: Plan, unit: str | None, times: int) -> Columns:
    """Return the rows of a plan carried out so many times over, for the sake of one unit."""
    own = frozenset(growing(study, plan, unit))
    return stacked([(str(place), columns_of(plan)) for place in range(times)], own)


def is_lopsided(study: Study, plan: Plan) -> bool:
    """Return whether recipes are left out, or made more often than others without being meant to.

    Examples
    --------
    >>> from trials.design.draw import sketch
    >>> from trials.study import Limits, Response, Study, StudyFactor
    >>> heat = StudyFactor(name="heat", levels=("low", "high"))
    >>> study = Study(title="", question="", factors=(heat,), responses=(Response(name="y"),),
    ...               limits=Limits(items=5))
    >>> is_lopsided(study, sketch(study))
    True
    """
    shuffles = (plan.shuffle, *(part.shuffle for part in plan.parts))
    if any(rule.shares for shuffle in shuffles for rule in shuffle.balance):
        return False
    made = Counter(tuple(row.factors.values()) for row in plan.rows)
    return len(made) < recipes(study) or len(set(made.values())) > 1


def drawn_larger(study: Study, plan: Plan, own: frozenset[str], times: float) -> Columns | None:
    """Return the rows of a plan so many times as large, drawn anew; None where there is none soon.

    The outermost groups of ``own`` have so many times as many members, the others stay.
    """
    n = round(len(plan.rows) * times)
    tops = {
        g.name for g in study.groups if g.name in own and (g.within is None or g.within not in own)
    }
    if any(g.sizes or (g.name in tops and g.count * times % 1) for g in study.groups):
        return None
    if not is_even(study, n) or {g.name for g in study.groups} != {g.name for g in plan.groups}:
        return None  # a search would take long, or the plan was extended
    groups = tuple(
        g.model_copy(update={"count": int(g.count * times), "members": ()}) if g.name in tops else g
        for g in study.groups
    )
    larger = study.model_copy(update={"groups": groups})
    return fresh(larger, n, plan.seed, plain=n > SEARCHED)


def fresh(study: Study, items: int | None, seed: int = 0, *, plain: bool = True) -> Columns | None:
    """Return the rows of a plan drawn anew with so many items; None where there is none."""
    if items is not None:
        limits = study.limits.model_copy(update={"items": None, "copies": None})
        study = study.model_copy(update={"limits": limits})
    try:
        drawn = deal(study, seed, items, plain=plain)
    except PlanError:
        return None
    return drawn_columns(drawn.units, drawn.factors, drawn.layout)
