"""The report on a practice run: the spread it was made for, and nothing about comparisons."""

from __future__ import annotations

import io
import math
import statistics
from dataclasses import replace

import pytest
from pypdf import PdfReader

from trials.analysis.findings import FoundSpread
from trials.analysis.studies import analyse_study
from trials.design.values import PlanRow
from trials.render.blocks import figures, walk
from trials.render.paper import document_pdf
from trials.render.table import Table
from trials.service.findings_text import findings_lines
from trials.study.reading import parse_study
from trials.words.forbidden import find_forbidden
from trials.words.numbers import NBSP
from trials.words.practice import WHERE_TO_PASTE

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
    spread = told.findings.practice[0].spread
    assert spread is not None
    return spread


def test_the_spread_is_that_within_makers_less_the_readings() -> None:
    spread = spread_of(practised())
    within = statistics.mean([statistics.variance(pair) for pair in VALUES.values()])
    assert spread.items == pytest.approx(math.sqrt(within - SD**2 / 3))
    assert spread.readings == pytest.approx(SD)
    assert (spread.items_df, spread.readings_df) == (2, 8)
    # chi-squared with 2 df: 2.5 and 97.5 % points 0.0506 and 7.378 (any printed table), less the
    # readings' part
    low, high = (end or 0.0 for end in spread.items_interval)
    assert 0 < low < math.sqrt(within * 2 / 7.378)
    assert high == pytest.approx(math.sqrt(within * 2 / 0.0506), rel=0.01)


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
        line
        for line in told.text("answer").split(WHERE_TO_PASTE)[1].split("\n")
        if "=" in line or "[" in line
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
    assert find_forbidden(text.split("For your real study")[0]) == ()
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
    assert findings.practice[0].spread is None
    assert "can't be told yet" in Whole(told.study, told.plan, measured, findings).text("answer")


def test_the_answer_says_all_that_a_practice_run_is_made_for() -> None:
    told = practised()
    text = told.text("answer")
    assert "All 4 planes worked." in text
    assert "the share that fails may still be anything up to 60 %" in text
    assert "planes built alike differed from their average by about 0.51 m" in text
    assert "How much of that is the meter: readings explain about 10 %" in text
    assert "The planes of maker M2 came out 2.7 m higher on average than those of maker M1" in text
    assert "It went with the maker" in text
    needed = told.findings.practice[0].needed
    assert needed is not None
    assert f"you need about {needed.count} of each version to see 1.5 times" in text
    few, many = needed.interval
    assert f"anything between {few} and {many}" in text
    assert 'spread_from = "../practice"' in text
    terminal = "\n".join(findings_lines(told.findings, "planes-first")).replace(NBSP, " ")
    assert 'spread_from = "../planes-first"' in terminal
    assert "It went with the maker" in terminal


def test_three_planes_of_which_one_pair_is_of_one_maker_are_hardly_any_information() -> None:
    told = one_failed(practised())
    text = told.text("answer")
    assert "3 of 4 planes worked, 1 failed." in text
    assert "hardly any information on the spread" in text
    needed = told.findings.practice[0].needed
    assert needed is not None
    assert needed.to_make is not None
    assert f"make {needed.to_make} of each" in text


def one_failed(told: Whole, keep: int = 3) -> Whole:
    """Return the run with all planes but the first ``keep`` failed."""
    values = tuple(
        v if place < keep else replace(v, status="failed", value=None, exact=None)
        for place, v in enumerate(told.measured.values)
    )
    measured = replace(told.measured, values=values)
    return replace(told, measured=measured, findings=analyse_study(told.study, told.plan, measured))


def test_a_run_of_which_nothing_worked_has_a_page_too() -> None:
    told = one_failed(practised(), keep=0)
    text = told.text("answer")
    assert "None of the 4 planes worked." in text
    assert "can't be told yet" in text
    assert "spread_from" not in text
    assert "None of the 4 items worked." in "\n".join(findings_lines(told.findings))


def test_the_answer_stands_on_one_page() -> None:
    data = document_pdf(practised().document(), "a4")
    pages = PdfReader(io.BytesIO(data)).pages
    first = pages[0].extract_text()
    assert "How many you need" in first
    assert 'source = "practice run"' in first.replace("\n", " ")
    assert "What went wrong" not in first
