"""Everything that is handed out for one plan, in one call."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import Final

from trials.classroom.hazards import safer
from trials.design.planned import plan_factors
from trials.design.values import Plan
from trials.errors import PlanError
from trials.render.beside import at_once
from trials.render.typeset import Paper
from trials.sheets.class_times import timetable
from trials.sheets.label_sheets import PLAIN
from trials.sheets.labels import labels
from trials.sheets.lesson import lesson_pages
from trials.sheets.lists import cautions_list
from trials.sheets.logbook import logbook
from trials.sheets.making import making_sheets
from trials.sheets.materials import materials, materials_csv
from trials.sheets.measuring import measuring_sheets, parted_by
from trials.sheets.parts import Job
from trials.sheets.risk import risk_form
from trials.sheets.values import Handout, Handouts
from trials.study.values import Study
from trials.words.language import speaking

_LONG: Final = ("making-sheets.pdf", "entry-workbook.xlsx")  # begun first: nothing waits for them
_IN_ORDER: Final = (
    "the order of the work in each session, with sums of the planned minutes; not for whoever "
    "measures"
)
_BY_THE_MINUTE: Final = (
    "who begins what at which minute of each lesson, with a chart; not for whoever measures"
)
_TO_READ: Final = "codes in measuring order with lines for the readings, for whoever measures"


def make_sheets(
    study: Study,
    plan: Plan,
    *,
    paper: Paper = "a4",
    label_size: str = PLAIN,
    lost: tuple[str, ...] = (),
    unmade: tuple[str, ...] = (),
    measured: tuple[str, ...] = (),
) -> Handouts:
    """Return the printed sheets and the entry workbook of a plan.

    Making sheets name the versions of everything that is compared; measuring sheets, labels and
    workbook carry codes only. All are in the language of the study; what each is for is told on
    the screen, in English.

    Parameters
    ----------
    study, plan : the plan must have been drawn for these variables and groups; words that only
        explain (titles, steps, cautions) may have been mended since.
    paper : "a4" or "us-letter".
    label_size : "plain", "large" or the size of one label, such as "70 x 37 mm".
    lost, unmade : codes of items that there will be nothing of: lost, or not made as their team was
        absent. They get no label and no line to measure in; the workbook strikes them out.
    measured : codes of items that have readings: once something is gone, nothing more is got out
        for them.

    Raises
    ------
    PlanError : the plan was drawn from another study, or holds no items.
    RequestError : unknown paper, no such labels, or too small ones.
    """
    if not _fits(study, plan):
        raise PlanError(
            "The plan doesn't belong to this study: the study was changed after it was drawn.",
            code="sheets.other_study",
            do="Draw the plan again with 'trials plan', then print the sheets.",
        )
    if not plan.rows:
        raise PlanError(
            "The plan holds no items, so there is nothing to print.",
            code="sheets.no_items",
            do="Draw the plan again with 'trials plan'.",
        )
    job = Job(safer(study), plan, paper, lost, unmade, measured)
    with speaking(study.language):
        return Handouts(_handouts(job, label_size))


def labels_without(
    study: Study,
    plan: Plan,
    *,
    paper: Paper,
    label_size: str,
    lost: tuple[str, ...],
    unmade: tuple[str, ...],
) -> bytes:
    """Return labels.pdf alone, as :func:`make_sheets` draws it for the same.

    Raises
    ------
    RequestError : unknown paper, no such labels, or too small ones.
    """
    with speaking(study.language):
        return labels(Job(safer(study), plan, paper, lost, unmade), label_size)[0]


def _handouts(job: Job, label_size: str) -> tuple[Handout, ...]:
    """Return everything that is handed out, in the order of use, made two at a time."""
    tasks = dict(_tasks(job, label_size))
    begun = sorted(tasks, key=lambda name: name not in _LONG)
    made = dict(zip(begun, at_once(*(tasks[name] for name in begun)), strict=True))
    return tuple(made[name] for name in tasks)


def _tasks(job: Job, label_size: str) -> Iterator[tuple[str, Callable[[], Handout]]]:
    """Yield what makes each file, by its name, in the order of use."""

    def one(
        name: str, purpose: str, make: Callable[[Job], bytes]
    ) -> tuple[str, Callable[[], Handout]]:
        return name, lambda: Handout(name, purpose, make(job))

    yield one(
        "cautions.pdf",
        "what can hurt at each step, and what the codes mean: read it first",
        cautions_list,
    )
    yield one(
        "risk-form.pdf",
        "a form for the risk assessment, filled in and signed by the responsible adult before "
        "anyone starts",
        risk_form,
    )
    yield one(
        "materials.pdf",
        "what to get out for each step, to tick off; and how much, where the study says so",
        materials,
    )
    yield one("materials.csv", "the same list for a spreadsheet", materials_csv)
    yield one("timetable.pdf", _IN_ORDER if job.agenda is None else _BY_THE_MINUTE, timetable)
    if job.agenda is not None:
        yield one(
            "lesson.pdf",
            "a page for each lesson, for the teacher: minutes, what to lay out, what goes wrong; "
            "not for whoever measures",
            partial(lesson_pages, agenda=job.agenda),
        )
    yield "labels.pdf", partial(_labels, job, label_size)
    yield one(
        "making-sheets.pdf",
        "who makes what in which order, and how; page one is signed before anyone starts",
        making_sheets,
    )
    yield one(
        "logbook.pdf",
        "numbered pages for each team to write down what happens, when it happens",
        logbook,
    )
    piece = parted_by(job)
    parted = f"a part for each {piece}, to lie there: " if piece else ""
    yield one("measuring-sheets.pdf", f"{parted}{_TO_READ}", measuring_sheets)
    yield one(
        "entry-workbook.xlsx",
        "the readings are typed in here, then 'trials collect' takes it in",
        _workbook,
    )


def _labels(job: Job, label_size: str) -> Handout:
    stuck, purpose = labels(job, label_size)
    return Handout("labels.pdf", purpose, stuck)


def _workbook(job: Job) -> bytes:
    from trials.sheets.workbook import entry_workbook  # its library loads while pages are typeset

    return entry_workbook(job)


def _fits(study: Study, plan: Plan) -> bool:
    """Return whether a study still has the variables and groups that a plan was drawn for."""
    groups = {group.name: study.path(group.name) for group in study.groups}
    return plan_factors(study) == plan.factors and groups == {g.name: g.path for g in plan.groups}
