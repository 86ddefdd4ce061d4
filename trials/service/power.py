"""``trials power``: how many are needed, or what a number of items can show."""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from trials.design.draw import preview
from trials.design.power import OneWayPower, one_way_power
from trials.design.values import Plan
from trials.errors import RequestError
from trials.progress import progress
from trials.render.table import Column, Table, to_text
from trials.service.opening import open_study
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
        ]


@dataclass(frozen=True)
class StudyPower:
    """Power for everything that a study compares."""

    study: Study
    plan: Plan

    def to_dict(self) -> dict[str, Any]:
        """Return power and verdict chances as in plan.json."""
        document = self.plan.model_dump(mode="json")
        return {"power": document["power"], "verdict_chances": document["verdict_chances"]}

    def text(self) -> list[str]:
        """Return a table of chances."""
        columns = (
            Column("measured"),
            Column("compared"),
            Column("true difference", kind="significant"),
            Column("spread between groups"),
            Column("found in", unit="% of repeats", kind="percent", decimals=0),
        )
        rows = tuple(
            (row.response, row.term, row.difference, row.spread, row.power)
            for row in self.plan.power
        )
        table = Table("power", "How often a difference of this size would be found", columns, rows)
        return to_text(table)


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


def power_of_study(folder: Path) -> StudyPower:
    """Return the power of a study as it stands in study.toml.

    Raises
    ------
    FileError, StudyError, PlanError : no study, or an impossible one.
    """
    _, study = open_study(folder)
    with progress("working out"):
        return StudyPower(study, preview(study))
