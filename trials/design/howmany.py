"""How many are needed: what a study could tell if it were smaller or larger.

A study grows by being repeated: each repeat adds its own members of whatever has to grow (the group
that a factor is applied to, groups that hold only so many items), while the other groups stay and
get more items. Between whole repeats stands half a study, drawn anew. A plan that leaves recipes
out, or makes some more often than others, is drawn anew at every size. Nothing is read off between
two sizes: each is judged as a plan of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from itertools import product
from typing import TYPE_CHECKING, Any

from trials.design.columns import Columns, columns_of, plan_structure, ready_of
from trials.design.growing import (
    MOST_ROWS,
    drawn_larger,
    fresh,
    growing,
    grown,
    is_lopsided,
    stacked,
)
from trials.design.judging.detectable import as_given, smallest_difference
from trials.design.looks import confidence_of
from trials.design.outlook import assume, outlook
from trials.design.searched import is_even
from trials.design.values import Plan
from trials.errors import AnalysisError
from trials.model import RESIDUAL, Prepared, make_layout
from trials.study import recipes, with_changes

if TYPE_CHECKING:
    from trials.study import Study, StudyFactor

TIMES = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0)
COPIES = (2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100)  # of each recipe
ALWAYS = 3.0  # sizes up to here are judged in any case
WANTED = 0.8  # share of repeats that counts as enough
PLENTY = 0.9  # where every chance is above, larger sizes tell nothing new


@dataclass(frozen=True)
class SizePoint:
    """What a study of one size could tell about one factor.

    ``units`` counts the factor's own units in all: items, or members of the group that it is
    applied to; ``groups`` the members of every group that grows. ``worthwhile`` and ``expected``:
    chances that such a difference shows; ``none_settled``: that a true "no difference" ends as *no
    practical difference*; ``expected_settled``: that the expected one ends as *mattered*. A chance
    that can't be worked out is None.
    """

    times: float  # size against the present plan
    items: int
    units: int
    per_level: float
    groups: dict[str, int]
    worthwhile: float | None = None
    expected: float | None = None
    none_settled: float | None = None
    expected_settled: float | None = None
    at_80: float | None = None
    at_90: float | None = None


CHANCES = ("worthwhile", "expected", "none_settled", "expected_settled")


@dataclass(frozen=True)
class Curve:
    """What sizes from small to large could tell about one factor; ``unit``: None for the item.

    ``unmade``: pairs of versions, this factor's and another's, that the plan never makes though the
    study asks what the two do together.
    """

    response: str
    factor: str
    unit: str | None
    levels: int
    points: tuple[SizePoint, ...]
    unmade: tuple[Mapping[str, str], ...] = ()

    def first(self, chance: str, wanted: float = WANTED) -> SizePoint | None:
        """Return the smallest size from which on a chance is as wanted; None if none is."""
        found = None
        for point in reversed(self.points):
            value = getattr(point, chance)
            if value is None or value < wanted:
                break
            found = point
        return found

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for ``--json``; ``enough``: units in all from which 8 in 10 find."""
        firsts = {name: self.first(name) for name in CHANCES}
        enough = {name: None if point is None else point.units for name, point in firsts.items()}
        return {**asdict(self), "enough": enough}


def how_many(study: Study, plan: Plan) -> tuple[Curve, ...]:
    """Return a curve for every factor and every response whose spread is given.

    Examples
    --------
    >>> from trials.design.draw import draw
    >>> from trials.study import Limits, Response, Spread, Study, StudyFactor
    >>> shape = StudyFactor(name="shape", levels=("dart", "glider"), shared=False)
    >>> distance = Response(name="distance", unit="m", worthwhile=2.0, spread=Spread(items=2.0))
    >>> study = Study(title="Planes", question="Which flies further?", factors=(shape,),
    ...               responses=(distance,), limits=Limits(copies=4))
    >>> curve, = how_many(study, draw(study, seed=7))
    >>> [(point.per_level, round(point.worthwhile, 2)) for point in curve.points[2:5]]
    [(4.0, 0.22), (5.0, 0.29), (6.0, 0.35)]
    >>> curve.first("worthwhile").per_level
    20.0
    """
    given = [r.name for r in study.responses if r.spread is not None and r.spread.items > 0]
    if not given or not plan.factors:
        return ()
    grids: dict[frozenset[str], list[_Sized]] = {}
    sized: dict[str | None, list[_Sized]] = {}
    curves = []
    for factor in study.factors:
        unit = factor.applied_to
        own = frozenset(growing(study, plan, unit))
        if own not in grids:
            grids[own] = list(_sizes(study, plan, own))
        if unit not in sized:
            sized[unit] = _merged(grids[own], _advised(study, plan, unit))
        unmade = _unmade(study, plan, factor)
        for response in given:
            points = tuple(_point(one, factor.name, response) for one in sized[unit])
            curves.append(Curve(response, factor.name, unit, len(factor.levels), points, unmade))
    order = {name: place for place, name in enumerate(given)}
    return tuple(sorted(curves, key=lambda curve: order[curve.response]))


def _unmade(study: Study, plan: Plan, factor: StudyFactor) -> tuple[Mapping[str, str], ...]:
    """Return the pairs of a factor's versions with another's that no item of the plan has."""
    if study.analysis.interactions < 2:
        return ()
    out = []
    for other in study.factors:
        if other.name != factor.name:
            made = {(row.factors[factor.name], row.factors[other.name]) for row in plan.rows}
            out += [
                {factor.name: one, other.name: two}
                for one, two in product(factor.levels, other.levels)
                if (one, two) not in made
            ]
    return tuple(out)


@dataclass(frozen=True)
class _Sized:
    """One size, judged: chances and detectable differences by response and factor."""

    times: float
    items: int
    units: Mapping[str, int]
    groups: dict[str, int]
    levels: Mapping[str, int]
    chances: Mapping[tuple[str, str], Mapping[str, float | None]]

    @property
    def is_plenty(self) -> bool:
        """Whether no chance could get much better."""
        return all(
            (chances.get(name) or 0.0) >= PLENTY
            for chances in self.chances.values()
            for name in CHANCES
            if name in chances
        )


def _point(one: _Sized, factor: str, response: str) -> SizePoint:
    return SizePoint(
        times=one.times,
        items=one.items,
        units=one.units[factor],
        per_level=one.units[factor] / one.levels[factor],
        groups=one.groups,
        **one.chances.get((response, factor), {}),
    )


def _sizes(study: Study, plan: Plan, own: frozenset[str]) -> Iterator[_Sized]:
    fresh = not study.groups and not plan.groups and is_even(study, len(plan.rows))
    for times, columns in _drawn(study, plan) if fresh else _repeated(study, plan, own):
        one = _judged(study, plan, times, columns, own)
        yield one
        if times >= ALWAYS and one.is_plenty:
            return


def _judged(
    study: Study, plan: Plan, times: float, columns: Columns, own: frozenset[str]
) -> _Sized:
    if times == 1.0:  # the plan itself, which is known mostly
        ready = ready_of(study, plan)
    else:
        structure = plan_structure(plan.factors, plan.groups)
        layout = make_layout(structure, columns, random=study.analysis.random)
        ready = Prepared(layout, study.analysis.interactions)
    n = ready.layout.n
    counts = {g.name: len(set(columns[g.name])) for g in study.groups}
    return _Sized(
        times=times,
        items=n,
        units={f.name: n if f.applied_to is None else counts[f.applied_to] for f in study.factors},
        groups={name: count for name, count in counts.items() if name in own},
        levels={f.name: len(f.levels) for f in study.factors},
        chances=_chances(study, ready),
    )


def _merged(grid: Sequence[_Sized], advised: Iterator[_Sized]) -> list[_Sized]:
    """Return all sizes from small to large; of two that are alike the one that was advised."""
    sizes = {one.times: one for one in (*grid, *advised)}
    return [sizes[times] for times in sorted(sizes)]


def _advised(study: Study, plan: Plan, unit: str | None) -> Iterator[_Sized]:
    """Yield the sizes that the fair-test check advises for a clear answer, as it drew them."""
    own = frozenset(growing(study, plan, unit))
    for finding in plan.audit:
        facts = finding.facts
        if finding.code != "no_verdict" or "needed" not in facts or facts["unit"] != unit:
            continue
        columns: Columns | None
        if "times" in facts:
            columns = grown(study, plan, unit, facts["times"])
        else:
            lines = facts.get("smallest") or [(one.keys, one.value) for one in finding.change]
            columns = fresh(with_changes(study, lines), None, plan.seed)
        if columns is not None:
            times = len(next(iter(columns.values()))) / len(plan.rows)
            yield _judged(study, plan, times, columns, own)


def _drawn(study: Study, plan: Plan) -> Iterator[tuple[float, Columns]]:
    n, each = len(plan.rows), recipes(study)
    for items in sorted({n, *(each * copies for copies in COPIES)}):
        if items == n:
            yield 1.0, columns_of(plan)
        elif items <= min(TIMES[-1] * n, MOST_ROWS):
            columns = fresh(study, items)
            if columns is not None:
                yield items / n, columns


def _repeated(study: Study, plan: Plan, own: frozenset[str]) -> Iterator[tuple[float, Columns]]:
    whole, lopsided = columns_of(plan), is_lopsided(study, plan)
    half = drawn_larger(study, plan, own, 0.5) if len(plan.rows) % 2 == 0 else None
    # half a study has its own versions in groups that stay, which then hold two versions
    mixes = all(f.applied_to is None or f.applied_to in own for f in study.factors)
    for times in TIMES:
        if len(plan.rows) * times > MOST_ROWS:
            return
        anew = drawn_larger(study, plan, own, times) if lopsided and times > 1 else None
        if anew is not None:
            yield len(anew[plan.factors[0].name]) / len(plan.rows), anew
            continue
        pieces = [(str(place), whole) for place in range(int(times))]
        if times % 1:
            if half is None or (pieces and not mixes):
                continue
            pieces.append(("half", half))
        yield times, stacked(pieces, own)


def _chances(study: Study, ready: Prepared) -> dict[tuple[str, str], dict[str, float | None]]:
    """Return chances and detectable differences by response and factor."""
    chances: dict[tuple[str, str], dict[str, float | None]] = {}
    power, verdicts = outlook(study, ready, ("given",), mains=True)
    for row in power:
        own = chances.setdefault((row.response, row.term), {})
        response = study.response(row.response)
        if row.difference == response.worthwhile:
            own["worthwhile"] = row.power
        if row.difference == response.expected:
            own["expected"] = row.power
    for chance in verdicts:
        own = chances.setdefault((chance.response, chance.factor), {})
        if chance.truth == "zero":
            own["none_settled"] = chance.no_practical_difference
        elif chance.truth == "expected":
            own["expected_settled"] = chance.mattered
    for response in study.responses:
        assumed = assume(study, response)
        if assumed is None or assumed.components[RESIDUAL] <= 0:
            continue
        try:
            known = ready.at(assumed.components)
        except AnalysisError:
            continue
        alpha = 1 - confidence_of(study)
        for factor in study.factors:
            own = chances.setdefault((response.name, factor.name), {})
            for key, wanted in (("at_80", 0.8), ("at_90", 0.9)):
                size = smallest_difference(known, (factor.name,), wanted=wanted, alpha=alpha)
                own[key] = as_given(response, size)
    return chances
