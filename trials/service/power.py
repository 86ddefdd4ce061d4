"""``trials power``: how many are needed, or what a number of items can show."""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from trials.design.howmany import Curve, how_many
from trials.design.judging import layout_of
from trials.design.power import MOST_PER_GROUP, OneWayPower, one_way_power
from trials.design.simulation import Simulation, is_exact
from trials.design.simulation import simulate as run_simulation
from trials.design.values import Plan
from trials.errors import RequestError
from trials.files import as_typed
from trials.progress import progress
from trials.render.table import Column, Table, to_text
from trials.service.impossible import with_nearest
from trials.service.plan_files import write_power_figure
from trials.service.plan_text import outlook_lines, size_lines
from trials.service.power_text import (
    bar,
    clear_findings,
    clear_lines,
    found_lines,
    how_many_lines,
    simulation_lines,
)
from trials.service.standing import Standing, standing
from trials.study import Study
from trials.words.numbers import percent, significant


@dataclass(frozen=True)
class PowerRequest:
    """One comparison of equal groups, with one number left out."""

    groups: int | None = None
    per_group: int | None = None
    f: float | None = None
    difference: float | None = None
    sd: float | None = None
    power: float | None = None
    alpha: float = 0.05


@dataclass(frozen=True)
class PowerTold:
    """The number that was left out, with the others."""

    groups: int
    alpha: float
    found: OneWayPower

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        return self.found.to_dict()

    def text(self) -> list[str]:
        """Return the answer in a sentence."""
        found = self.found
        size = f"an effect of f = {significant(found.f)}"
        if found.difference is not None:
            size = f"a largest difference of {significant(found.difference)} ({size})"
        return [
            f"With {self.groups} versions and {found.per_group} items of each, {size} is found in "
            f"{percent(found.power)} of repeats.",
            f"A difference that isn't there is 'found' in {percent(self.alpha)} of repeats.",
            f"How: {found.method}.",
            "",
            *to_text(self._table()),
        ]

    def _table(self) -> Table:
        """Return the chance for numbers around the one asked for, from small to large."""
        columns = (
            Column("items", "items of each version", kind="count"),
            Column("all", "items in all", kind="count"),
            Column("found in", unit="% of repeats", kind="percent"),
            Column(""),
        )
        rows = []
        for each in _around(self.found.per_group):
            chance = one_way_power(
                self.groups, per_group=each, f=self.found.f, alpha=self.alpha
            ).power
            rows.append((each, self.groups * each, chance, bar(chance)))
        return Table("sizes", "How many items of each version?", columns, tuple(rows))


def _around(each: int) -> tuple[int, ...]:
    """Return about nine numbers of items from a quarter of one to four times as many.

    Examples
    --------
    >>> _around(12), _around(2)
    ((3, 4, 6, 8, 12, 18, 24, 36, 48), (2, 3, 4, 6, 8))
    """
    shares = (0.25, 0.35, 0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 4.0)
    return tuple(sorted({min(max(round(each * share), 2), MOST_PER_GROUP) for share in shares}))


@dataclass(frozen=True)
class StudyPower:
    """Power for everything that a study compares, at its size and at others.

    ``exact``: the plan is balanced, so that the calculation is exact.
    """

    of: Standing
    exact: bool
    curves: tuple[Curve, ...]
    simulation: Simulation | None = None
    files: tuple[str, ...] = ()

    @property
    def study(self) -> Study:
        """The study."""
        return self.of.study

    @property
    def plan(self) -> Plan:
        """The plan whose numbers are shown."""
        return self.of.plan

    def to_dict(self) -> dict[str, Any]:
        """Return power and verdict chances as in plan.json, and how many would be needed.

        ``for_a_clear_answer``: as ``trials check`` finds it, the smallest number of units.
        """
        document = self.plan.model_dump(mode="json")
        return {
            "plan": "drawn" if self.of.which == "plan" else "specimen",
            "numbers_of": self.of.which,
            "exact": self.exact,
            "power": document["power"],
            "verdict_chances": document["verdict_chances"],
            "detectable": [row.model_dump(mode="json") for row in self.plan.detectable],
            "how_many": [curve.to_dict() for curve in self.curves],
            "for_a_clear_answer": [
                {key: finding.facts[key] for key in ("names", "unit", "needed", "items")}
                for finding in clear_findings(self.plan)
            ],
            "simulation": None if self.simulation is None else self.simulation.to_dict(),
            "files": list(self.files),
        }

    def text(self) -> list[str]:
        """Return what shows, what the answers would be, and how many are needed."""
        lines = [self.study.title, *size_lines(self.study, self.plan), self.of.told()]
        lines += found_lines(self.study, self.plan, self.plan.detectable)
        if self.plan.detectable and not self.exact and self.simulation is None:
            lines += [
                "This plan is not balanced in everything, so these numbers are near, not exact; "
                "where × stands or groups are few, they can promise too much. To check: "
                f"trials power {as_typed(self.of.here.folder)} --simulate 1000"
            ]
        lines += outlook_lines(self.study, self.plan)
        lines += how_many_lines(self.study, self.curves)
        lines += clear_lines(self.study, self.plan)
        if self.simulation is not None:
            lines += simulation_lines(self.study, self.simulation)
        if self.files:
            lines += ["", f"As a picture: {self.of.here.folder / self.files[0]}"]
        return lines


def power_of(request: PowerRequest) -> PowerTold:
    """Return the number that was left out.

    Raises
    ------
    RequestError : not exactly one number left out, or one that makes no sense.
    """
    if request.groups is None:
        raise RequestError(
            "The number of versions is missing.",
            code="power.no_groups",
            where="--groups",
            do="Say how many versions are compared, for instance: --groups 3",
        )
    given = {field.name: getattr(request, field.name) for field in fields(request)}
    return PowerTold(request.groups, request.alpha, one_way_power(**given))


def power_of_study(
    folder: Path, *, simulate: int | None = None, seed: int | None = None
) -> StudyPower:
    """Return the power of a study, and write it as a picture beside the plan.

    Parameters
    ----------
    simulate : how many studies to simulate; None for none.
    seed : of the simulated studies; 1 where it is not given.

    Raises
    ------
    FileError, StudyError, PlanError : no study, or an impossible one.
    RequestError : a senseless number of studies, or a seed with nothing to simulate.
    """
    if simulate is None and seed is not None:
        raise RequestError(
            "A seed says where chance begins, and nothing here is left to chance.",
            code="power.seed_alone",
            where="trials power --seed",
            found=f"--seed {seed} without --simulate",
            do="Add --simulate 1000, or leave --seed out.",
        )
    with with_nearest(folder), progress("working out"):
        of = standing(folder)
        here, study, plan = of.here, of.study, of.plan
        exact = True
        if plan.factors:
            layout = layout_of(study, plan)
            exact = is_exact(study, layout)
        curves = how_many(study, plan)
        files = write_power_figure(here, study, curves)
    simulation = None
    if simulate is not None and plan.factors:
        with progress("simulating") as tell:
            simulation = run_simulation(
                study, layout, studies=simulate, seed=1 if seed is None else seed, tell=tell
            )
    return StudyPower(of, exact, curves, simulation, files)
