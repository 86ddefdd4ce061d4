"""How long a report takes from its findings: figures, page and paper, for 48 items and for 1,008.

Run it by hand: ``python -m tests.benchmarks.bench_report [TIMES]``; 21 times the items of the demo
are 1,008. It prints a table, judges nothing. The demo has 18 figures. What a person waits for are
the seconds by the clock, which tell something on an idle machine only. Those of the processor count
both processes; on one processor (``taskset -c 0 python -m ...``) there is only one.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does

import datetime
import json
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

from trials.render.beside import Draw, drawing_beside

if TYPE_CHECKING:  # all that is loaded takes part in what is measured
    from trials.analysis.findings import Findings, ResponseFindings
    from trials.design.values import Plan
    from trials.record.values import Measured

CELLS = Path(__file__).parents[2] / "reports" / "cells"
_BEGUN = time.perf_counter()


def main(times: int = 1) -> None:
    """Print the seconds that have gone by, and those of the processor, at the end of each stage."""
    with drawing_beside() as draw:
        told = _report(draw, times)
    more = os.times()
    seconds = time.process_time() + more.children_user + more.children_system
    sys.stdout.write(f"{told}; {seconds:.2f} s of the processor in both processes\n")


def _report(draw: Draw, times: int) -> str:
    from trials.analysis.findings import Findings
    from trials.render.blocks import figures
    from trials.report import report_document, report_files, story_of
    from trials.study import read_study
    from trials.workspace import Workspace, read_plan

    study = read_study(CELLS / "study.toml")
    plan = read_plan(Workspace(CELLS))
    findings = Findings.model_validate(json.loads((CELLS / "findings.json").read_bytes()))
    plan, findings = _larger(plan, findings, times)
    _say("loaded")
    day = datetime.date(2031, 3, 21)
    document = report_document(
        story_of(study, plan, _measured(findings), findings, today=day, version="0")
    )
    _say("document")
    draw(figures(document))
    _say("figures")
    files = report_files(document)
    _say("page, paper and tables")
    megabytes = len(files["report.html"]) / 1e6
    return f"{len(plan.rows)} items, {len(figures(document))} figures, page {megabytes:.2f} MB"


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
    from trials.record.values import ItemValue, Measured

    values = tuple(
        ItemValue(point.item, found.name, "measured", point.value, None, None, 3)
        for found in findings.responses
        for point in found.points
    )
    return Measured("0" * 64, values)


def _say(name: str) -> None:
    gone, here = time.perf_counter() - _BEGUN, time.process_time()
    sys.stdout.write(f"{name:<28} {gone:6.2f} s gone by  {here:6.2f} s of this process\n")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1)
