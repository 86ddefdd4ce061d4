"""Labels: one for each item, its code large, for plain paper and scissors."""

from __future__ import annotations

from typing import Any, Final

from trials.classroom.arrange import Sitting, maker_group, session_group, sittings
from trials.design.values import PlanGroup
from trials.render.typeset import pdf, template
from trials.sheets.parts import Job, Line
from trials.words.numbers import count

COLUMNS: Final = 3


def labels(job: Job) -> bytes:
    """Return labels.pdf: a grid of labels, team by team, with no word on how anything is made."""
    sheets = sittings(job.study, job.plan)
    data: dict[str, Any] = {
        "foot": job.foot(blind=True),
        "intro": f"Labels for {count(len(job.plan.rows), job.study.item_name)}: print on plain "
        "paper or on sticky sheets, cut along the lines, and fix each one before the work starts.",
        "columns": COLUMNS,
        "item": job.study.item_name,
        "labels": [line for sheet in sheets for line in _lines(job, sheet)],
    }
    return pdf(template("labels.typ", "trials.sheets"), data, title="Labels", paper=job.paper)


def _lines(job: Job, sheet: Sitting) -> list[Line]:
    maker, session = maker_group(job.plan), session_group(job.study, job.plan)
    whose = sheet.maker if _says_nothing(job, maker) else ""
    when = sheet.session if _says_nothing(job, session) else ""
    check = ", ".join(part for part in (whose, when) if part)
    return [{"code": row.item, "check": check} for row in sheet.rows]


def _says_nothing(job: Job, group: PlanGroup | None) -> bool:
    """Whether a group's label gives no level away: no factor is applied to it."""
    return group is not None and all(f.applied_to != group.path for f in job.plan.factors)
