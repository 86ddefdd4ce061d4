"""reports/: one study settles nothing, one is in Spanish, one the fair-test check saves."""

from __future__ import annotations

import difflib
import json
import re
import shutil
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest

from tests.command_line import ROOT, CommandLine
from tests.invented import generator
from tests.kept import REPORTS, figures_are_fresh, findings_are_fresh, plan_is_fresh, text_is_fresh
from tests.remembered import words_of_pages
from trials.study import read_study
from trials.workspace import Workspace, read_plan

PLANES = ROOT / "study_demo" / "planes"
AVIONES = ROOT / "study_demo" / "aviones"
STAGES = ("1-as-written", "2-no-stop", "3-mended")
UNFAIR = REPORTS / "unfair"


# ---- eight paper planes: not settled --------------------------------------------------------


@pytest.fixture(scope="module")
def thrown(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the folder in which the demo of the planes was run."""
    line = CommandLine(tmp_path_factory.mktemp("thrown"))
    told = line.run("demo", "planes", "--example", "planes")
    assert "Not settled." in told
    assert "settled 1 question" in told  # the throw that was written down in centimetres
    return line.folder / "planes"


@pytest.fixture(scope="module")
def make() -> Any:
    """Give the generator of the throws."""
    return generator("planes")


def test_the_report_of_the_planes_is_fresh(thrown: Path) -> None:
    kept = REPORTS / "planes"
    findings_are_fresh(kept, thrown)
    plan_is_fresh(kept, thrown)
    text_is_fresh(kept / "report" / "report.txt", thrown / "report" / "report.txt")
    figures_are_fresh(kept / "report" / "figures", thrown / "report" / "figures")


def test_the_throws_are_what_the_generator_makes(make: Any, thrown: Path) -> None:
    made = make.hand_in(read_study(PLANES / "study.toml"), read_plan(Workspace(thrown)))
    measured = PLANES / "measured"
    assert {path.name: path.read_bytes() for path in measured.iterdir()} == made


def test_the_range_of_doubt_holds_the_truth_and_more_than_is_worth_it(
    make: Any, thrown: Path
) -> None:
    (found,) = json.loads((thrown / "findings.json").read_bytes())["responses"]
    (pair,) = found["comparisons"]
    assert (pair["a"]["shape"], pair["b"]["shape"]) == ("dart", "glider")
    true = make.read_toml("truth.toml")["distance"]["shape"]
    low, high = pair["interval_adjusted"]
    assert low < true["dart"] - true["glider"] < high
    (verdict,) = found["verdicts"]
    assert verdict["verdict"] == "not settled"
    assert low < -verdict["worthwhile"]
    assert high > verdict["worthwhile"]


def test_its_board_names_no_winner_and_its_judge_reads_what_it_rules_out(thrown: Path) -> None:
    board = words_of_pages((thrown / "report" / "board.pdf").read_bytes())
    title = next(page for page in board if "Which paper plane" in page and "Quillmoor" in page)
    assert "Shape is not settled yet." in title
    assert not re.search(r"dart|glider", title, re.IGNORECASE)
    judge = " ".join(words_of_pages((thrown / "report" / "judge.pdf").read_bytes())).split()
    assert "You ran a fair test. It rules out differences larger than 2.7 m" in " ".join(judge)


# ---- sixteen paper planes, told in Spanish ---------------------------------------------------


@pytest.fixture(scope="module")
def lanzado(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the folder in which the demo in Spanish was run."""
    line = CommandLine(tmp_path_factory.mktemp("lanzado"))
    assert "settled 1 question" in line.run("demo", "aviones", "--example", "aviones")
    return line.folder / "aviones"


def test_the_report_in_spanish_is_fresh(make: Any, lanzado: Path) -> None:
    kept = REPORTS / "aviones"
    findings_are_fresh(kept, lanzado)
    plan_is_fresh(kept, lanzado)
    text_is_fresh(kept / "report" / "report.txt", lanzado / "report" / "report.txt")
    figures_are_fresh(kept / "report" / "figures", lanzado / "report" / "figures")
    made = make.hand_in(read_study(AVIONES / "study.toml"), read_plan(Workspace(lanzado)), AVIONES)
    assert {path.name: path.read_bytes() for path in (AVIONES / "measured").iterdir()} == made


def test_the_report_in_spanish_finds_the_truth_and_says_so(make: Any, lanzado: Path) -> None:
    true = make.read_toml("truth.toml", AVIONES)["distance"]
    (found,) = json.loads((lanzado / "findings.json").read_bytes())["responses"]
    verdicts = {one["factor"]: one["verdict"] for one in found["verdicts"]}
    assert verdicts == {"forma": "mattered", "papel": "not settled"}
    for pair in found["comparisons"]:
        (name,) = [key for key in pair["a"] if pair["a"][key] != pair["b"][key]]
        low, high = pair["interval_adjusted"]
        assert low < true[name][pair["a"][name]] - true[name][pair["b"][name]] < high
    text = (lanzado / "report" / "report.txt").read_text(encoding="utf-8")
    assert "importó" in text
    page = (lanzado / "report" / "report.html").read_text(encoding="utf-8")
    assert '<html lang="es">' in page
    board = " ".join(words_of_pages((lanzado / "report" / "board.pdf").read_bytes()))
    assert "forma importó" in board


# ---- the badly planned study ----------------------------------------------------------------


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> CommandLine:
    """Give the command line beside the three stages, each planned anew but without its page."""
    line = CommandLine(tmp_path_factory.mktemp("unfair"))
    for stage in STAGES:
        folder = line.folder / "reports" / "unfair" / stage
        folder.mkdir(parents=True)
        shutil.copy(UNFAIR / stage / "study.toml", folder)
        with patch("trials.service.plan.write_plan_page", return_value=False):
            line.run("plan", f"reports/unfair/{stage}", "--seed", "1")
    return line


@pytest.mark.parametrize("stage", STAGES)
def test_what_the_check_says_is_fresh(planned: CommandLine, stage: str) -> None:
    fresh = planned.folder / "reports" / "unfair" / stage
    plan_is_fresh(UNFAIR / stage, fresh)
    (fresh / "check.txt").write_text(
        planned.run("check", f"reports/unfair/{stage}"), encoding="utf-8"
    )
    text_is_fresh(UNFAIR / stage / "check.txt", fresh / "check.txt")


def test_each_change_is_what_the_check_before_says_to_write(planned: CommandLine) -> None:
    severities = []
    for stage, after in zip(STAGES, (*STAGES[1:], None), strict=True):
        audit = read_plan(Workspace(planned.folder / "reports" / "unfair" / stage)).audit
        severities.append({finding.severity for finding in audit})
        if after is None:
            break
        told = [
            {f"{change.keys[-1]} = {change.value}" for change in finding.change}
            for finding in audit
        ]
        first, then = (
            (UNFAIR / name / "study.toml").read_text("utf-8").splitlines()
            for name in (stage, after)
        )
        changed = {
            line[2:].split(" # ")[0] for line in difflib.ndiff(first, then) if line.startswith("+ ")
        }
        if stage == STAGES[0]:
            assert any("give each cell its own version of dye" in f.remedy for f in audit)
            changed.remove("shared = false")
        assert changed in told
    assert severities == [{"stop", "warn", "note"}, {"warn", "note"}, {"note"}]


def test_the_page_of_two_classes_is_fresh(planned: CommandLine) -> None:
    stage = planned.folder / "reports" / "unfair" / STAGES[-1]
    planned.run("demo", "--unfair", stage)
    for page, to in ((UNFAIR / STAGES[-1], "kept.txt"), (stage, "fresh.txt")):
        html = (page / "unfair" / "unfair.html").read_text(encoding="utf-8")
        bare = re.sub(r"<(svg|style|script)\b.*?</\1>|<[^>]+>", " ", html, flags=re.DOTALL)
        (stage / to).write_text(bare, encoding="utf-8")
    text_is_fresh(stage / "kept.txt", stage / "fresh.txt")
