"""Labels: one for each item, its code large and as a QR code, for paper or sticky sheets."""

from __future__ import annotations

from typing import Any, Final

from trials.classroom.arrange import Sitting, check_code, maker_group, session_group
from trials.design.values import PlanGroup
from trials.render.qr import qr
from trials.render.typeset import pdf, template
from trials.sheets.label_sheets import label_sheet, measures
from trials.sheets.parts import Job, Line
from trials.words import labels as words
from trials.words.gone import no_label
from trials.words.language import say
from trials.words.numbers import NBSP, count

TEMPLATE: Final = "labels.typ"
_SHORT: Final = 14  # letters that stay on one line


def labels(job: Job, wanted: str) -> tuple[bytes, str]:
    """Return labels.pdf and what it is: labels team by team, with no word on how a thing is made.

    What is lost or not made gets none.

    Parameters
    ----------
    wanted : which labels, see :func:`trials.sheets.label_sheets.label_sheet`.

    Raises
    ------
    RequestError : there are no such labels, or they are too small.
    """
    data = label_page(job, wanted)
    page = pdf(template(TEMPLATE, "trials.sheets"), data, title=say("Labels"), paper=job.paper)
    return page, data["purpose"]


def label_page(job: Job, wanted: str) -> dict[str, Any]:
    """Return what the labels' page is drawn from; lengths in mm. ``purpose``: what it is for."""
    sheet = label_sheet(wanted, job.paper)
    codes = [row.item for row in job.plan.rows]
    squares = {code: qr(code) for code in codes}
    sizes = measures(sheet, codes, max(code.side for code in squares.values()))
    lines = [
        {**line, "qr": squares[line["code"]].svg()}
        for sitting in job.sittings
        for line in _lines(job, sitting)
    ]
    many = count(len(lines), job.study.item_name)
    without = no_label(*job.gone_among(job.plan.rows))
    return {
        "foot": job.foot(blind=True),
        "title": say("Labels"),
        "purpose": words.purpose(
            job.study.item_name,
            sheet.form,
            (sheet.across, sheet.down),
            (sheet.width, sheet.height),
            sizes.capitals,
        ),
        "intro": " ".join(filter(None, [words.intro(many, sizes.capitals), without])),
        "plan": _whole(say("plan {code}", code=check_code(job.plan))),
        "item": job.study.item_name,
        "form": sheet.form,
        "across": sheet.across,
        "down": sheet.down,
        "mm": {
            "width": sheet.width,
            "height": sheet.height,
            "left": sheet.left,
            "top": sheet.top,
            "gap": sheet.gap,
            "pad-x": sheet.pad[0],
            "pad-y": sheet.pad[1],
            "letters": sizes.letters,
            "qr": sizes.qr,
        },
        "labels": lines,
    }


def _lines(job: Job, sheet: Sitting) -> list[Line]:
    maker, session = maker_group(job.plan), session_group(job.study, job.plan)
    whose = sheet.maker if _says_nothing(job, maker) else ""
    when = sheet.session if _says_nothing(job, session) else ""
    check = [_whole(part) for part in (whose, when) if part]
    return [{"code": row.item, "check": check} for row in sheet.rows]


def _whole(text: str) -> str:
    """Return a text that no line breaks in, unless it is long."""
    return text.replace(" ", NBSP) if len(text) <= _SHORT else text


def _says_nothing(job: Job, group: PlanGroup | None) -> bool:
    """Whether a group's label gives no level away: no factor is applied to it."""
    return group is not None and all(f.applied_to != group.path for f in job.plan.factors)
