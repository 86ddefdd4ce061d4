"""The demo: 48 solar cells of an invented class, with everything that goes wrong in a class.

The truth behind its measurements stands in study_demo/cells/truth.toml.
"""

from __future__ import annotations

import json
import math
import os
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
import time
import tomllib
from collections.abc import Callable
from itertools import product
from pathlib import Path
from typing import Any

import pytest

from tests.command_line import ROOT, CommandLine
from tests.invented import generator
from tests.kept import REPORTS, figures_are_fresh, findings_are_fresh, plan_is_fresh, text_is_fresh
from tests.pages import axe_violations, nu_messages
from tests.remembered import plans_remembered
from tests.sizes import examples
from trials.analysis import analyse_study
from trials.design.draw import draw
from trials.ingest import read_file
from trials.record import ItemValue, Measured
from trials.study import Study, read_study
from trials.workspace import Workspace, read_plan

CELLS = ROOT / "study_demo" / "cells"
KEPT = REPORTS / "cells"
STOPPABLE = sys.platform != "win32"  # Windows sends Ctrl-C to whole consoles


@pytest.fixture(scope="module")
def make() -> Any:
    """Give the generator of the demo's measurements."""
    return generator("cells")


def stop_the_demo(folder: Path, there: str, gone: str = "") -> None:
    """Start the demo here, and press Ctrl-C when it has made one thing and taken another away.

    Its plan is drawn once for all of them.
    """
    over = threading.Event()

    def press() -> None:
        if _comes(folder, there, gone, over.is_set):
            os.kill(os.getpid(), signal.SIGINT)

    finger = threading.Thread(target=press)
    finger.start()
    try:
        with plans_remembered():
            told = CommandLine(folder.parent).run("demo", folder.name, code=130)
    finally:
        over.set()
        finger.join()
    _is_stopped(folder, told)


def stop_a_demo_of_its_own(folder: Path, there: str) -> None:
    """Start the demo as a person does, in a process of its own, and send it Ctrl-C."""
    with subprocess.Popen(
        [sys.executable, "-m", "trials", "demo", folder.name],
        cwd=folder.parent,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as demo:
        _comes(folder, there, "", lambda: demo.poll() is not None)
        demo.send_signal(signal.SIGINT)
        _, told = demo.communicate(timeout=60)
    assert demo.returncode == 130, told
    _is_stopped(folder, told)


def _comes(folder: Path, there: str, gone: str, over: Callable[[], bool]) -> bool:
    """Wait until one thing is there and another is not; return whether that comes."""
    while not (folder / there).exists() or (gone and (folder / gone).exists()):
        if over():
            return False
        time.sleep(0.01)
    return True


def _is_stopped(folder: Path, told: str) -> None:
    assert "Traceback" not in told
    assert "Stopped. Nothing was lost" in told
    left = [path for path in folder.rglob("*") if path.name.startswith(".trials.lock")]
    assert len(left) <= 1  # the empty lock file may stay; it holds nothing


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> CommandLine:
    """Give the folder in which the demo was run, by a process of its own.

    Before that it was stopped three times: nothing of it may stand in the way.
    """
    folder = tmp_path_factory.mktemp("demo")
    if STOPPABLE:
        stop_a_demo_of_its_own(folder / "trials-demo", "study.toml")  # before the plan
        stop_the_demo(folder / "trials-demo", "plan.json")
        stop_the_demo(folder / "trials-demo", "record.sqlite")
    told = CommandLine(folder, afresh=True).run("demo")
    assert "Dye mattered" in told or "dye mattered" in told
    return CommandLine(folder)


@pytest.fixture(scope="module")
def findings(done: CommandLine) -> Any:
    return json.loads((done.folder / "trials-demo" / "findings.json").read_bytes())


def _study() -> Study:
    return read_study(CELLS / "study.toml")


# ---- the demo as a person sees it -----------------------------------------------------------


def test_the_committed_measurements_are_what_the_generator_makes(
    make: Any, done: CommandLine
) -> None:
    seed = tomllib.loads((CELLS / "course.toml").read_text(encoding="utf-8"))["seed"]
    study = _study()
    plan = read_plan(Workspace(done.folder / "trials-demo"))
    assert plan.seed == seed
    handed, files = make.hand_in(study, plan)
    assert {path.name for path in (CELLS / "measured").iterdir()} == set(files)
    for name, content in files.items():
        kept = read_file(CELLS / "measured" / name, name, study, plan)
        fresh = read_file(content, name, study, plan)
        assert kept.rows == fresh.rows
        assert kept.questions == fresh.questions
    trouble = make.read_truth()["trouble"]
    for what in ("failed", "lost", "swapped", "slips"):
        assert len(getattr(handed, what)) == trouble[what]


def test_the_class_settles_every_question(done: CommandLine) -> None:
    folder = done.folder / "trials-demo"
    told = done.json("collect", folder, *sorted((CELLS / "measured").iterdir()))
    assert [file["status"] for file in told["taken"]] == ["same", "same"]
    assert told["questions"] == []


def test_what_went_wrong_is_in_the_findings(findings: Any) -> None:
    power = findings["responses"][0]
    assert power["name"] == "power"
    assert (power["n_failed"], power["n_lost"]) == (3, 1)
    assert power["n_items"] == 44
    assert power["method"]["estimator"] == "reml"  # not orthogonal


def test_a_demo_in_place_of_a_finished_one_can_be_stopped_but_nothing_else_is_replaced(
    done: CommandLine, line: CommandLine
) -> None:
    here = line.folder / "here"
    shutil.copytree(done.folder / "trials-demo", here)
    (here / "findings.json").write_text("of last time", encoding="utf-8")
    if STOPPABLE:
        stop_the_demo(here, "plan.json", gone="findings.json")
        assert not (here / "record.sqlite").exists()
        assert not (here / "report").exists()
        again, first = (
            json.loads((folder / "plan.json").read_bytes())
            for folder in (here, done.folder / "trials-demo")
        )
        assert again["locked"] is None  # drawn anew, and not printed yet
        assert {**again, "locked": first["locked"], "digest": first["digest"]} == first
    study = here / "study.toml"
    study.write_text(study.read_text(encoding="utf-8") + "# mine\n", encoding="utf-8")
    error = line.json("demo", "here", code=1)["error"]
    assert error["code"] == "demo.folder"
    assert study.read_text(encoding="utf-8").endswith("# mine\n")


@pytest.mark.needs("vnu-jar", "chromium", "axe-core")
def test_outside_judges_find_no_fault_in_its_pages(done: CommandLine) -> None:
    folder = done.folder / "trials-demo"
    pages = (folder / "report" / "report.html", folder / "plan.html")
    assert nu_messages(*pages) == []
    for page in pages:
        assert axe_violations(page.read_text(encoding="utf-8")) == {}
        assert page.stat().st_size < 3_000_000


def test_another_process_finds_the_very_same(done: CommandLine, line: CommandLine) -> None:
    shutil.copytree(done.folder / "trials-demo", line.folder / "here")
    (line.folder / "here" / "findings.json").unlink()
    line.run("analyse", "here")
    again = (line.folder / "here" / "findings.json").read_bytes()
    assert again == (done.folder / "trials-demo" / "findings.json").read_bytes()


def test_after_measuring_the_plan_stays(done: CommandLine) -> None:
    error = done.json("plan", "trials-demo", code=1)["error"]
    assert error["code"] == "plan.measured"
    assert "trials new" in error["do"]


def test_every_file_handed_in_is_kept_byte_for_byte(done: CommandLine) -> None:
    with sqlite3.connect(done.folder / "trials-demo" / "record.sqlite") as record:
        kept = {bytes(row[0]) for row in record.execute("SELECT content FROM files")}
    assert kept == {path.read_bytes() for path in (CELLS / "measured").iterdir()}


# ---- does the analysis find the truth? ------------------------------------------------------


def true_log_difference(make: Any, factor: str, a: str, b: str) -> float:
    """Return the true difference of two levels on the log scale, averaged over all recipes."""
    power = make.read_truth()["power"]
    others = {name: list(levels) for name, levels in power["effects"].items() if name != factor}
    total = 0.0
    recipes = [dict(zip(others, levels, strict=True)) for levels in product(*others.values())]
    for recipe in recipes:
        total += math.log(make.true_ratio(power, {**recipe, factor: a}))
        total -= math.log(make.true_ratio(power, {**recipe, factor: b}))
    return total / len(recipes)


def covered(make: Any, response: Any) -> list[bool]:
    """Return for each pair of levels of a factor whether its interval holds the truth."""
    found = []
    for one in response["comparisons"]:
        if ":" in one["term"] or len(one["a"]) != 1:
            continue
        (a,), (b,) = one["a"].values(), one["b"].values()
        truth = math.exp(true_log_difference(make, one["term"], a, b))
        low, high = one["interval_adjusted"]
        found.append(low <= truth <= high)
    return found


def test_the_intervals_hold_the_truth(make: Any, findings: Any) -> None:
    held = covered(make, findings["responses"][0])
    assert len(held) == 6
    assert all(held)


def test_the_ranking_is_the_true_one(make: Any, findings: Any) -> None:
    effects = {e["term"]: e["share_of_variance"] for e in findings["responses"][0]["effects"]}
    ranked = sorted(("dye", "heat", "soak", "coats"), key=lambda term: -effects[term])
    largest = {
        "dye": abs(true_log_difference(make, "dye", "hibiscus", "beetroot")),
        "heat": abs(true_log_difference(make, "heat", "oven", "burner")),
        "soak": abs(true_log_difference(make, "soak", "40", "10")),
        "coats": abs(true_log_difference(make, "coats", "2", "1")),
    }
    assert ranked == sorted(largest, key=lambda term: -largest[term])


def test_the_best_and_the_worst_dye_are_the_true_ones(findings: Any) -> None:
    means = {m["levels"]["dye"]: m["mean"] for m in findings["responses"][0]["means"]
             if m["term"] == "dye"}  # fmt: skip
    assert sorted(means, key=lambda dye: -means[dye]) == ["hibiscus", "red cabbage", "beetroot"]


@pytest.mark.long
def test_in_many_classes_the_intervals_hold_the_truth_as_often_as_they_say(
    make: Any,
    evidence: Callable[[str, object], None],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # nobody reads the check of the plan, nor what leaving out one thing does
    monkeypatch.setattr("trials.design.draw.with_audit", lambda _, plan: plan)
    monkeypatch.setattr("trials.analysis.run.influence", lambda *_: None)
    # 95 % at once for the pairs of one factor: for a single pair at least that often
    study = _study().model_copy(update={"responses": _study().responses[:1]})
    study = study.model_copy(
        update={"analysis": study.analysis.model_copy(update={"resamples": 0})}
    )
    truth = make.read_truth()
    repeats = examples(2, 600)
    held: dict[str, list[bool]] = {}
    for seed in range(1, repeats + 1):
        plan = draw(study, seed=seed)
        cells = make.build(plan, {**truth, "seed": seed})
        values = [ItemValue(c.row.item, "power", "measured", c.power, None, None, 1) for c in cells]
        found = analyse_study(study, plan, Measured("d", tuple(values)), beside=False).to_dict()
        response = found["responses"][0]
        terms = [c["term"] for c in response["comparisons"] if ":" not in c["term"]]
        for term, inside in zip(terms, covered(make, response), strict=True):
            held.setdefault(term, []).append(inside)
    rates = {term: sum(inside) / len(inside) for term, inside in held.items()}
    evidence("demo_intervals", {"repeats": repeats, "share_of_intervals_with_the_truth": rates})
    # three Monte Carlo errors below 95 %
    assert all(rate > 0.95 - 3 * math.sqrt(0.95 * 0.05 / repeats) for rate in rates.values()), rates


# ---- reports/ is what the demo makes --------------------------------------------------------


def test_reports_are_fresh(done: CommandLine) -> None:
    fresh = done.folder / "trials-demo"
    findings_are_fresh(KEPT, fresh)
    plan_is_fresh(KEPT, fresh)
    text_is_fresh(KEPT / "report" / "report.txt", fresh / "report" / "report.txt")
    figures_are_fresh(KEPT / "report" / "figures", fresh / "report" / "figures")


def test_readme_shows_a_picture_of_the_result() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    pictures = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", readme)
    assert pictures
    assert all((ROOT / picture).is_file() for picture in pictures)
