"""A planned study: the structure comes from the plan, the numbers from the record."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

import trials
from trials.analysis.alike import leftover, reading_share
from trials.analysis.at_least import by_ranks, has_rank, rank_verdicts, ranked
from trials.analysis.centring import numbers
from trials.analysis.data import Data, on_scale
from trials.analysis.drift import CLOCK, COLUMN, MEASURING
from trials.analysis.failed_alike import failed_alike
from trials.analysis.failed_worst import FailedWorst, failed_as_worst
from trials.analysis.failures import failures_by_level
from trials.analysis.findings import (
    FailureTable,
    Findings,
    MadeFindings,
    MissingLevel,
    PracticeFindings,
    ReadingShare,
    ResponseFindings,
    SetAside,
    Verdict,
)
from trials.analysis.plan_layouts import PlanLayouts, layouts_of
from trials.analysis.practised import Seen, practised
from trials.analysis.repeatability import repeatability
from trials.analysis.run import analyse
from trials.analysis.shuffle_intervals import planned_intervals
from trials.analysis.shuffling import ShuffleTest, replay_shuffle
from trials.design.columns import items_layout
from trials.design.looks import confidence_of, is_after_looking
from trials.design.planned import printed_plans
from trials.design.values import Plan
from trials.errors import AnalysisError, TrialsError
from trials.model import Layout
from trials.model.layout import Floats
from trials.record.otherwise import plan_as_made
from trials.record.values import ItemValue, Measured
from trials.study.options import Options
from trials.study.values import Response, Study


def analyse_study(study: Study, plan: Plan, measured: Measured, *, beside: bool = True) -> Findings:
    """Return the findings of every response of a study that has measured values.

    ``beside`` False: no more than verdicts need, without what stands beside them (intervals by the
    shuffle, what an answer hangs on, items as they were made), which takes most of the time.

    Raises
    ------
    AnalysisError : no response can be analysed.
    """
    if study.practice:
        return _practice(study, plan, measured)
    wanted = [r for r in study.responses if _worked(measured.of(r.name))]
    if not wanted:
        if any(value.status == "at least" for value in measured.values):
            raise _nothing_measured("Every item measured outlasted the watching.")
        raise _nothing_measured("Nothing has been measured yet, or every item failed.")
    layouts = layouts_of(plan, study.analysis)
    return Findings(
        program_version=trials.__version__,
        plan_digest=plan.digest(),
        record_digest=measured.digest,
        responses=tuple(
            _analyse(study, layouts, measured, response, beside=beside) for response in wanted
        ),
    )


def _nothing_measured(what: str) -> AnalysisError:
    return AnalysisError(
        what,
        code="analysis.nothing_measured",
        do="Take in the filled sheets with 'trials collect', then analyse again.",
    )


def _practice(study: Study, plan: Plan, measured: Measured) -> Findings:
    """Return the findings of a practice run; that nothing worked is one of them."""
    found: list[ResponseFindings] = []
    told: list[PracticeFindings] = []
    layouts = layouts_of(plan, study.analysis)
    for response in study.responses:
        values = measured.of(response.name)
        if not any(has_rank(value) or value.status == "failed" for value in values):
            continue
        plain = response.model_copy(update={"worthwhile": None})
        seen = _seen(study, layouts, measured, plain)
        logs = _seen(study, layouts, measured, plain.model_copy(update={"compare": "ratio"}))
        told.append(practised(plan, response, values, seen, logs, confidence=confidence_of(study)))
        if seen is not None:
            found.append(seen.found)
    if not told:
        raise _nothing_measured("Nothing has been measured yet.")
    return Findings(
        program_version=trials.__version__,
        plan_digest=plan.digest(),
        record_digest=measured.digest,
        responses=tuple(found),
        practice=tuple(told),
    )


def _seen(
    study: Study, layouts: PlanLayouts, measured: Measured, response: Response
) -> Seen | None:
    """Return one response as fitted; None where that can't be, or values are only 'at least'."""
    values = {v.item: v for v in measured.of(response.name)}
    if not _worked(tuple(values.values())) or _open_ended(values.values()):
        return None  # of those that outlasted the watching nobody knows how they spread
    try:
        data = study_data(study, layouts.plan, measured, response)
        found = _analyse(study, layouts, measured, response)
    except AnalysisError:
        return None
    return Seen(data, found, tuple(values[item] for item in data.items))


def _worked(values: tuple[ItemValue, ...]) -> list[ItemValue]:
    return [v for v in values if v.status == "measured" and v.value is not None]


def _open_ended(values: Iterable[ItemValue]) -> bool:
    return any(value.status == "at least" for value in values)


def _analyse(
    study: Study,
    layouts: PlanLayouts,
    measured: Measured,
    response: Response,
    *,
    beside: bool = True,
) -> ResponseFindings:
    plan = layouts.plan
    data = study_data(study, plan, measured, response)
    values = {v.item: v for v in measured.of(response.name)}
    shuffled = replay_shuffle(layouts, data)
    failures = failures_by_level(layouts, data, values)
    worst = _failed_worst(layouts, data, values, failures, shuffled)
    if worst is not None:
        failures = tuple(
            table.model_copy(update={"p_as_worst": worst.p.get(table.factor)}) for table in failures
        )
    if not beside:
        found = analyse(data, shuffled, worst, sensitivity=False)
        return _of_ranks(found, plan, response, (data, values, worst))
    found = analyse(data, shuffled, worst, planned_intervals(layouts, data))
    found = _of_ranks(found, plan, response, (data, values, worst))
    missing = _missing_levels(plan, data.items, values)
    method = found.method
    after = is_after_looking(study, plan, set(data.items))
    if after:
        method = method.model_copy(update={"notes": (*method.notes, "after_looking")})
    if measured.open_questions:
        still = f"open_questions:{len(measured.open_questions)}"
        method = method.model_copy(update={"notes": (*method.notes, still)})
    return found.model_copy(
        update={
            "failures": failures,
            "failed_alike": failed_alike(layouts, values),
            "missing_levels": missing,
            "as_made": _as_made(study, plan, measured, response),
            "new_part": _of_new_part(study, plan, measured, response) if after else (),
            "method": method,
            "repeatability": None
            if found.ranked is not None
            else repeatability(plan, data, values),
            "reading_share": None
            if found.ranked is not None
            else _reading_share(found, [values[item] for item in data.items], data),
        }
    )


def _of_ranks(
    found: ResponseFindings,
    plan: Plan,
    response: Response,
    seen: tuple[Data, Mapping[str, ItemValue], FailedWorst | None],
) -> ResponseFindings:
    """Return findings with what goes with them where values are only known as 'at least'."""
    data, values, worst = seen
    used = [values[item] for item in data.items]
    if not _open_ended(used):
        return found
    count = sum(value.status == "at least" for value in used)
    declared = response.worthwhile is not None  # and yet not used: see the note on ranks
    notes = [note for note in found.method.notes if note != "no_worthwhile" or not declared]
    return found.model_copy(
        update={
            "ranked": ranked(plan, response, used),
            "best_recipe": None,  # how many more ranks one has tells nothing of what to make
            "trends": (),
            "verdicts": rank_verdicts(data, response, found, worst),
            "method": found.method.model_copy(update={"notes": (f"by_ranks:{count}", *notes)}),
        }
    )


def _reading_share(
    found: ResponseFindings, values: list[ItemValue], data: Data
) -> ReadingShare | None:
    left = leftover(found, values)
    if left is None:
        return None
    readings = len(values) / sum(1 / max(one.readings, 1) for one in values)
    return reading_share(left, readings, data.options.confidence)


def _failed_worst(
    layouts: PlanLayouts,
    data: Data,
    values: Mapping[str, ItemValue],
    failures: tuple[FailureTable, ...],
    shuffled: Mapping[str, ShuffleTest],
) -> FailedWorst | None:
    """Return what failures would change; None where none failed."""
    plan = layouts.plan
    used = set(data.items)
    made = [
        row.item
        for row in sorted(plan.rows, key=lambda row: row.run)
        if row.item in used or (row.item in values and values[row.item].status == "failed")
    ]
    if len(made) == len(used):
        return None
    layout = items_layout(plan, made, data.options.random)
    ranked = failed_as_worst(layouts, data, made, layout)
    return replace(
        ranked,
        working={name: test.p for name, test in shuffled.items()},
        failing={table.factor: table.p for table in failures},
        shares={
            table.factor: {
                level: table.failed[level] / count for level, count in table.made.items() if count
            }
            for table in failures
        },
    )


def _as_made(
    study: Study, plan: Plan, measured: Measured, response: Response
) -> MadeFindings | None:
    """Return the answer by what was really made, where an item with a value or a failure differs.

    There is no shuffle of what people did, so verdicts rest on the fit alone; failures are counted
    by the levels that the items really got.
    """
    told = [one.item for one in measured.otherwise]
    seen = {v.item for v in measured.of(response.name) if has_rank(v) or v.status == "failed"}
    items = tuple(row.item for row in plan.rows if row.item in told and row.item in seen)
    if not items:
        return None
    made = plan_as_made(plan, measured.otherwise)
    kept = tuple(v for v in measured.values if v.item not in made.left_out)
    try:
        data = study_data(study, made.plan, replace(measured, values=kept), response)
        data = replace(data, layout=_grouped_as_planned(plan, data))
        values = {v.item: v for v in kept if v.response == response.name}
        plain = replace(data, options=data.options.model_copy(update={"resamples": 0}))
        layouts = layouts_of(made.plan, plain.options)
        failures = failures_by_level(layouts, plain, values)
        worst = _failed_worst(layouts, plain, values, failures, {})
        found = _of_ranks(analyse(plain, {}, worst), made.plan, response, (plain, values, worst))
    except TrialsError:  # too little is left of it
        return MadeFindings(items=items, left_out=_out(items, made.left_out), n_items=0,
                            comparisons=(), verdicts=())  # fmt: skip
    return MadeFindings(
        items=items,
        left_out=_out(items, made.left_out),
        n_items=found.n_items,
        comparisons=tuple(one for one in found.comparisons if len(one.a) == 1),
        verdicts=found.verdicts,
    )


def _grouped_as_planned(plan: Plan, data: Data) -> Layout:
    """Return the layout without groupings that only chance mishaps made.

    One item in another place makes a combination of two groups that holds two items, where all the
    others hold one. That is no yardstick for anything, and no unit.
    """
    layout = data.layout
    planned = {g.path for g in items_layout(plan, data.items, data.options.random).groupings}
    kept = tuple(g for g in layout.groupings if not g.implied or g.path in planned)
    paths = {g.path for g in kept}
    units = {name: unit if unit in paths else None for name, unit in layout.units.items()}
    return replace(layout, groupings=kept, units=units)


def _out(items: Sequence[str], left_out: frozenset[str]) -> tuple[str, ...]:
    return tuple(item for item in items if item in left_out)


def _of_new_part(
    study: Study, plan: Plan, measured: Measured, response: Response
) -> tuple[Verdict, ...]:
    """Return the verdicts by the last part alone: what was asked for after looking is a new study.

    None where it gives too little to analyse.
    """
    part = printed_plans(plan)[-1]
    items = {row.item for row in part.rows}
    values = tuple(v for v in measured.values if v.item in items)
    try:
        data = study_data(study, part, replace(measured, values=values), response)
        found = analyse(data, {}, sensitivity=False)
        own = {v.item: v for v in values if v.response == response.name}
        return _of_ranks(found, part, response, (data, own, None)).verdicts
    except AnalysisError:
        return ()


def _missing_levels(
    plan: Plan, used: tuple[str, ...], values: Mapping[str, ItemValue]
) -> tuple[MissingLevel, ...]:
    """Return the levels of which no item gave a value."""
    out = []
    for factor in plan.factors:
        for level in factor.levels:
            items = [row.item for row in plan.rows if row.factors[factor.name] == level]
            if not items or set(items) & set(used):
                continue
            mine = [values[item] for item in items if item in values]
            count = Counter(value.status for value in mine)
            out.append(
                MissingLevel(
                    factor=factor.name, level=level, planned=len(items), failed=count["failed"],
                    lost=count["lost"], never_made=sum(value.never_made for value in mine),
                )
            )  # fmt: skip
    return tuple(out)


def study_data(study: Study, plan: Plan, measured: Measured, response: Response) -> Data:
    """Return one response of a study, ready for analysis: items that worked, in making order.

    Where some are only known to have given at least so much, all of them are ranks.
    """
    values = {v.item: v for v in measured.of(response.name)}
    used = tuple(
        row.item
        for row in sorted(plan.rows, key=lambda row: row.run)
        if row.item in values and has_rank(values[row.item])
    )
    open_ended = _open_ended(values[item] for item in used)
    texts = ["0" if open_ended else _text(values[item]) for item in used]
    centred = numbers(texts, response.label or response.name)
    options = study.analysis.model_copy(
        update={
            "response": response.name,
            "compare": response.compare,
            "worthwhile": response.worthwhile,
            "better": response.better,
            "confidence": confidence_of(study),
            "control": tuple((f.name, f.control) for f in study.factors if f.control is not None),
        }
    )
    count = Counter(v.status for v in values.values())
    runs = {row.item: row.run for row in plan.rows}
    scale = "difference" if open_ended else response.compare
    data = Data(
        name=response.name,
        unit=response.unit,
        layout=items_layout(plan, used, options.random),
        y=on_scale(centred, scale, response.label or response.name, used),
        centred=centred,
        items=used,
        options=Options.model_validate(options.model_dump()),
        scale=response.compare,
        better=response.better,
        primary=response.primary or len(study.responses) == 1,
        n_readings=sum(values[item].readings for item in used),
        n_failed=count["failed"],
        n_lost=count["lost"],
        n_never_made=sum(value.never_made for value in values.values()),
        set_aside=tuple(
            SetAside(item=row.item, reason=_reason(values.get(row.item)))
            for row in plan.rows
            if row.item not in used
        ),
        runs=tuple(runs[item] for item in used),
        labels=_labels(study),
        units={f.name: f.unit for f in study.factors if f.unit},
        item_name=study.item_name,
        randomised=plan.by_lot,
        beside=_beside(plan, [values[item] for item in used]),
    )
    return by_ranks(data, [values[item] for item in used]) if open_ended else data


def _beside(plan: Plan, values: list[ItemValue]) -> dict[str, Floats]:
    """Return what is known beside each item's value: order and time of measuring, conditions."""
    order = {row.item: row.measure for row in plan.rows}
    names = dict.fromkeys(name for value in values for name in value.surroundings)
    found: dict[str, list[float | None]] = {
        MEASURING: [order[value.item] for value in values],
        CLOCK: [value.clock for value in values],
    }
    found |= {f"{COLUMN}{name}": [v.surroundings.get(name) for v in values] for name in names}
    return {name: np.array(numbers, dtype=np.float64) for name, numbers in found.items()}


def _text(value: ItemValue) -> str:
    return str(value.exact) if value.exact is not None else repr(value.value)


def _reason(value: ItemValue | None) -> str:
    if value is None:
        return "unmeasured"
    return value.status if not value.reason else f"{value.status}: {value.reason}"


def _labels(study: Study) -> dict[str, str]:
    labels = {f.name: f.label for f in study.factors}
    labels |= {g.name: g.label for g in study.groups}
    labels |= {r.name: r.label for r in study.responses}
    return {name: label for name, label in labels.items() if label}
