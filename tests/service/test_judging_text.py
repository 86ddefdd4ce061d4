"""The lines on what a plan would show, hide and lose."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

from tests.command_line import CommandLine
from tests.design.judging.plans import fraction, make, response
from tests.design.unchecked import draw
from trials.design.draw import preview
from trials.design.judging import judge
from trials.design.values import Plan
from trials.service.judging_text import MOST, lines
from trials.study import Study, read_study
from trials.words.forbidden import find_forbidden

DEMO = Path(__file__).parents[2] / "study_demo"


@cache
def tea() -> tuple[Study, Plan]:
    study = read_study(DEMO / "tea" / "study.toml")
    return study, draw(study, seed=7)


def told(study: Study, plan: Plan) -> list[str]:
    return [line.replace("\u00a0", " ") for line in lines(study, plan, judge(study, plan))]


@pytest.mark.parametrize("name", ["planes", "tea", "greenhouse", "cells"])
def test_at_most_twelve_lines_without_a_hard_word(name: str) -> None:
    study = read_study(DEMO / name / "study.toml")
    text = told(*tea()) if name == "tea" else told(study, draw(study, seed=7))
    assert 0 < len(text) <= MOST
    assert find_forbidden("\n".join(text)) == ()


def test_sizes_are_those_of_the_judgement() -> None:
    study = read_study(DEMO / "planes" / "study.toml")
    text = told(study, draw(study, seed=7))
    # statsmodels 0.15: TTestIndPower, 4 against 4 and 3 against 4, SD of planes and of throws
    assert text == [
        "Smallest difference in distance flown that shows in 8 (9) of 10 repeats:",
        "  shape 2.90 (3.37) m.",
        "If one plane is lost (the worst one): shape then shows from 3.26 m (before: 2.90 m).",
    ]


def test_a_specimen_s_members_have_no_names() -> None:
    study, plan = tea()
    text = "\n".join(told(study, preview(study)))
    assert "If one pot is lost (the worst one, 4 cups)" in text
    assert re.search(r"If one pot is lost \(worst: P\d+, 4 cups\)",
                     "\n".join(told(study, plan)))  # fmt: skip


def test_what_is_hidden_is_named_and_the_rest_counted() -> None:
    study, plan = make(fraction("ABC", {"D": "AB", "E": "AC"}), responses=[response()])
    text = told(study, plan)
    assert "A can't be told from B × D." in text
    assert any(re.fullmatch(r"\d+ more things are mixed up: see plan.json.", t) for t in text)


def test_a_variable_hidden_by_a_team_is_named() -> None:
    study, plan = make(
        {"dye": list("xxyy") * 2, "heat": list("pq") * 4},
        {"team": list("uuvv") * 2},
        responses=[response(1.0, {"team": 0.2})],
    )
    assert "Dye can't be told from team." in told(study, plan)


def test_what_hangs_together_more_than_it_should_is_told() -> None:
    study, plan = make({"dye": list("xxxxyyyy"), "heat": list("pppqqqqp")})
    assert any(line.startswith("Dye and heat hang together: 0.50") for line in told(study, plan))


def test_without_a_spread_the_cost_of_a_loss_is_told_in_times() -> None:
    study, plan = make({"dye": list("xxxxyyyy")})
    (line,) = told(study, plan)
    assert line == (
        "If one item is lost (the worst one): a difference in dye has to be 1.13 times as large "
        "to show."
    )


def test_plan_writes_the_page_and_its_numbers(line: CommandLine) -> None:
    line.run("new", "tea", "--example", "tea")
    told = line.run("plan", "tea", "--seed", "7")
    assert "What it can tell: trials check tea; with pictures: tea/plan.html" in told
    # what the check tells of this very plan isn't told twice
    assert "Smallest difference" not in told
    assert "Smallest difference" in line.run("check", "tea")
    made = {path.name for path in (line.folder / "tea").glob("plan*")}
    assert made == {
        "plan.json", "plan.csv", "plan.html", "plan-layout.svg", "plan-layout.png",
        "plan-ties.svg", "plan-ties.png",
    }  # fmt: skip
    document = line.json("plan", "tea", "--seed", "7")
    assert document["ties"]
    assert document["detectable"][0]["at_80"] > 0
    assert {loss["group"] for loss in document["worst_loss"]} == {"lesson", "pot", None}
    assert document["aliases"] == []


def test_check_tells_the_same_and_writes_nothing(line: CommandLine) -> None:
    line.run("new", "planes", "--example", "planes")
    assert "If one plane is lost" in line.run("check", "planes")
    assert line.json("check", "planes")["worst_loss"]
    assert not list((line.folder / "planes").glob("plan*"))


def test_a_ratio_that_no_study_would_meet_is_told_as_more_than_a_hundred_times() -> None:
    study, plan = tea()
    found = judge(study, plan)
    sizes = {"at_80": 6.9e7, "at_90": 1.2e10}
    large = tuple(row.model_copy(update=sizes) for row in found.detectable)
    ratio = tuple(r.model_copy(update={"compare": "ratio"}) for r in study.responses)
    study = study.model_copy(update={"responses": ratio})
    text = " ".join(lines(study, plan, found.model_copy(update={"detectable": large}))).replace(
        "\u00a0", " "
    )
    assert "more than 100 times" in text
    assert "10⁷" not in text
    assert "100 (" not in text
