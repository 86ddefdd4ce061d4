"""A practice run made, measured and taken in, for the studies that take their spread from it."""

from __future__ import annotations

import datetime
from pathlib import Path

from tests.journeys.bench import Reads, Row, fill_in, plan_rows
from trials.service.collect import collect_files
from trials.service.new import new
from trials.service.plan import draw_plan
from trials.service.sheets import make_sheets
from trials.study import Response, read_study

DAY = datetime.date(2031, 3, 4)
Values = dict[str, list[float | None]]  # by maker, in the order of making; None: does not work
OFF = (-0.05, 0.0, 0.05)  # of the readings of one item


def measured_run(folder: Path, values: Values | None, *, planned: bool = True) -> Response:
    """Make a practice run in ``folder`` and return its response; None measures nothing."""
    answers = folder.with_suffix(".answers.toml")
    answers.write_text('measure = "power in mW, 3 readings"\n', encoding="utf-8")
    new(folder, answers=answers, practice=True)
    response = read_study(folder / "study.toml").response("power")
    if not planned:
        return response
    draw_plan(folder, seed=3)
    if values is None:
        return response
    make_sheets(folder, today=DAY)
    filled = folder.with_suffix(".xlsx")
    fill_in(folder, filled, reads(folder, values))
    collect_files(folder, (filled,))
    return response


def reads(folder: Path, values: Values) -> Reads:
    """Return what is typed for each reading: the value, a little off; 'no' where nothing works."""
    found: dict[str, float | None] = {}
    left = {maker: list(own) for maker, own in values.items()}
    for row in sorted(plan_rows(folder).values(), key=lambda row: int(row["run"])):
        found[row["item"]] = left[row["maker"]].pop(0)

    def read(row: Row, reading: int, heading: str) -> float | str | None:
        value = found[row["item"]]
        if heading.startswith("power"):
            return None if value is None else round(value + OFF[reading - 1], 3)
        return "no" if heading.startswith("did it work") and value is None else None

    return read
