"""The report on a practice run: the spread it was made for, and nothing about comparisons."""

from __future__ import annotations

import math
import statistics

import pytest

from trials.analysis.findings import FoundSpread
from trials.analysis.studies import analyse_study
from trials.design.values import PlanRow
from trials.render.blocks import figures, walk
from trials.render.table import Table
from trials.service.findings_text import findings_lines
from trials.study.reading import parse_study
from trials.words.forbidden import find_forbidden
from trials.words.numbers import NBSP

from .whole import Whole, whole

PRACTICE = """
format_version = 1
title = "Practice run: distance"
question = "How different is the distance of things that were built alike?"
practice = true
item_name = "plane"
same = ["paper from one pack"]

[groups.maker]
count = 2
role = "maker"

[responses.distance]
unit = "m"
reducer = "mean"
readings = 3

[limits]
items = 4
copies = 4
"""
VALUES = {"M1": (4.0, 5.0), "M2": (7.0, 7.4)}
SD = 0.3  # of the three readings of each plane


def practised(toml: str = PRACTICE, sd: float = SD) -> Whole:
    seen: dict[str, int] = {}

    def value(row: PlanRow, _: int) -> float:
        maker = row.groups["maker"]
        seen[maker] = seen.get(maker, -1) + 1
        return VALUES[maker][seen[maker]]

    told = whole(toml, value)
    values = tuple(v.__class__(**{**v.__dict__, "readings": 3, "reading_sd": sd})
                   for v in told.measured.values)  # fmt: skip
    measured = told.measured.__class__(**{**told.measured.__dict__, "values": values})
    return Whole(told.study, told.plan, measured, analyse_study(told.study, told.plan, measured))


def spread_of(told: Whole) -> FoundSpread:
    spread = told.findings.responses[0].spread
    assert spread is not None
    return spread


def test_the_spread_is_that_within_makers_less_the_readings() -> None:
    spread = spread_of(practised())
    within = statistics.mean([statistics.variance(pair) for pair in VALUES.values()])
    assert spread.items == pytest.approx(math.sqrt(within - SD**2 / 3))
    assert spread.readings == pytest.approx(SD)
    assert (spread.items_df, spread.readings_df) == (2, 8)
    # chi-squared with 2 df: 2.5 and 97.5 % points 0.0506 and 7.378 (any printed table)
    low, high = spread.items_interval
    assert low == pytest.approx(spread.items * math.sqrt(2 / 7.378), rel=1e-3)
    assert high == pytest.approx(spread.items * math.sqrt(2 / 0.0506), rel=1e-3)


def test_readings_that_explain_all_of_it_do_not_promise_a_spread_of_nothing() -> None:
    assert spread_of(practised(sd=3.0)).items > 0.5


def test_a_ratio_gives_coefficients_of_variation() -> None:
    spread = spread_of(practised(PRACTICE.replace('reducer = "mean"', 'compare = "ratio"')))
    logs = [statistics.variance([math.log(x) for x in pair]) for pair in VALUES.values()]
    readings = statistics.mean(
        [math.log1p((SD / x) ** 2) for pair in VALUES.values() for x in pair]
    )
    assert spread.readings == pytest.approx(math.sqrt(math.expm1(readings)))
    alone = statistics.mean(logs) - readings / 3
    assert spread.items == pytest.approx(math.sqrt(math.expm1(alone)))


def test_the_lines_can_be_pasted_and_are_read_back() -> None:
    told = practised()
    block = "\n".join(
        line for line in told.text("answer").split("\n") if "=" in line or "[" in line
    )
    assert 'source = "practice run"' in block
    study = parse_study(PRACTICE + block, "study.toml")
    spread = study.responses[0].spread
    assert spread is not None
    assert spread.items == pytest.approx(spread_of(told).items, rel=5e-3)
    assert spread.readings == SD
    terminal = "\n".join(findings_lines(told.findings)).replace(NBSP, " ")
    for line in block.split("\n"):
        assert line in terminal
    assert "Tests" not in terminal


def test_nothing_is_said_of_comparisons_and_nothing_is_empty() -> None:
    document = practised().document()
    keys = [found.key for part in document.parts for found in walk(part.sections)]
    assert "variables" not in keys
    assert figures(document) == ()
    tables = [
        block
        for part in document.parts
        for found in walk(part.sections)
        for block in found.blocks
        if isinstance(block, Table)
    ]
    assert tables
    assert all(table.rows for table in tables)
    text = practised().text("answer")
    assert "mattered" not in text
    assert "caused" not in text
    assert find_forbidden(text.split("Write these lines")[0]) == ()
    assert "only roughly known" in text


def test_planes_of_a_maker_that_are_just_alike_tell_no_spread() -> None:
    told = practised()
    makers = {row.item: float(row.groups["maker"] == "M1") for row in told.plan.rows}
    values = tuple(
        v.__class__(**{**v.__dict__, "value": makers[v.item], "exact": None})
        for v in told.measured.values
    )
    measured = told.measured.__class__(**{**told.measured.__dict__, "values": values})
    findings = analyse_study(told.study, told.plan, measured)
    assert findings.responses[0].spread is None
    assert "can't be told yet" in Whole(told.study, told.plan, measured, findings).text("answer")
