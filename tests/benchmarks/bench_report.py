"""How long a report takes from its findings: figures, page and paper, for 48 items and for 1,008.

Run it by hand: ``python -m tests.benchmarks.bench_report [TIMES]``; 21 times the items of the demo
are 1,008. It prints a table, judges nothing. The demo has 18 figures.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does

import datetime
import json
import sys
import time
from pathlib import Path

from trials.analysis.findings import Findings, ResponseFindings
from trials.design.values import Plan
from trials.record.values import ItemValue, Measured
from trials.render.blocks import figures
from trials.report import report_document, report_files, story_of
from trials.study import read_study
from trials.workspace import Workspace, read_plan

CELLS = Path(__file__).parents[2] / "reports" / "cells"


def main(times: int = 1) -> None:
    """Print seconds of computing for each stage, from the start of the process."""
    study = read_study(CELLS / "study.toml")
    plan = read_plan(Workspace(CELLS))
    findings = Findings.model_validate(json.loads((CELLS / "findings.json").read_bytes()))
    plan, findings = _larger(plan, findings, times)
    day = datetime.date(2031, 3, 21)
    loaded = time.process_time()
    document = report_document(
        story_of(study, plan, _measured(findings), findings, today=day, version="0")
    )
    drawn = time.process_time()
    files = report_files(document)
    done = time.process_time()
    _say("loading", loaded, "")
    _say("document and figures", drawn - loaded, f"{len(figures(document))} figures")
    _say("page, paper and tables", done - drawn, f"page {len(files['report.html']) / 1e6:.2f} MB")
    _say(f"all, {len(plan.rows)} items", done, "")


def _larger(plan: Plan, findings: Findings, times: int) -> tuple[Plan, Findings]:
    """Return the plan and its findings with every item there ``times`` times, by new codes."""
    rows = tuple(
        row.model_copy(update={"item": f"{row.item}{n or ''}", "run": row.run + n * len(plan.rows)})
        for n in range(times)
        for row in plan.rows
    )
    plan = plan.model_copy(update={"rows": rows})
    responses = tuple(_more_points(found, times) for found in findings.responses)
    changes = {"responses": responses, "plan_digest": plan.digest()}
    return plan, findings.model_copy(update=changes)


def _more_points(found: ResponseFindings, times: int) -> ResponseFindings:
    points = tuple(
        point.model_copy(update={"item": f"{point.item}{n or ''}"})
        for n in range(times)
        for point in found.points
    )
    return found.model_copy(update={"points": points})


def _measured(findings: Findings) -> Measured:
    values = tuple(
        ItemValue(point.item, found.name, "measured", point.value, None, None, 3)
        for found in findings.responses
        for point in found.points
    )
    return Measured("0" * 64, values)


def _say(name: str, seconds: float, more: str) -> None:
    sys.stdout.write(f"{name:<40} {seconds:6.2f} s  {more}\n")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1)
