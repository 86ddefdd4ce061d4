"""A plan made larger by being repeated: what grows with it, and the rows of several repeats."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from trials.design.values import Plan

if TYPE_CHECKING:
    from trials.study import Study

MOST_ROWS = 2_000

Columns = dict[str, list[str]]


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


def columns_of(plan: Plan) -> Columns:
    """Return the members and versions of every row, in the order of the plan's rows."""
    columns = {g.name: [row.groups[g.name] for row in plan.rows] for g in plan.groups}
    return columns | {f.name: [row.factors[f.name] for row in plan.rows] for f in plan.factors}


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


def repeated(study: Study, plan: Plan, unit: str | None, times: int) -> Columns:
    """Return the rows of a plan carried out so many times, for the sake of one unit."""
    own = frozenset(growing(study, plan, unit))
    return stacked([(str(place), columns_of(plan)) for place in range(times)], own)
