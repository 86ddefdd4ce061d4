"""The record reduced to one value an item and response: what the analysis reads.

What counts
-----------
* An item *failed* if somebody wrote that it did not work, if its value is below the study's failed
  rule, or, where responses are compared by ratio, if it is not above zero or below three times its
  combined standard uncertainty (too weak to measure). That last is asked of differences too where
  the study has a failed rule above zero: then a working item has something to show. Without one, a
  value near zero may be a result like any other (how much warmer it got), and stays. It is not
  applied while a question on the item is open, for a slip in one reading looks just the same.
* An item is *lost* if it was said to be lost and has no usable reading. Where it has readings, a
  question asks whether they count; they do until somebody sets them aside. What an absent team was
  to make is lost too while there is no reading of it.
* An item known to be *at least* so much (it outlasted the watching) has no value, and is no less
  measured for that.
* Items with an open question are used as they were read, unless the question must be settled first
  (an impossible number, an unknown code, a reading entered twice): then that number or row waits.
"""

from __future__ import annotations

import statistics
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from trials.design.values import Plan
from trials.quantities import convert, convertible, nice
from trials.record.absences import absence_told, away_told, finished_by, not_made
from trials.record.answers import Applied, applied
from trials.record.clock import moment
from trials.record.equipment import missing_told
from trials.record.otherwise import exchange_sentence, otherwise_sentence
from trials.record.placing import (
    away_taken_back_told,
    missing_taken_back_told,
    placed_told,
    taken_back_told,
)
from trials.record.state import State
from trials.record.store import Store
from trials.record.values import (
    DEVIATION,
    Absence,
    Cell,
    Exchange,
    ItemValue,
    Loss,
    Measured,
    Otherwise,
    Question,
    Row,
)
from trials.reduction import Column, Reduced, reducer_of
from trials.study.values import Response, Study
from trials.words.language import say
from trials.words.numbers import listing

OUT_OF_PLACE = frozenset(["other_group", "swapped"])  # codes of departures from the plan
_WEAK = 3.0


@dataclass(frozen=True)
class _Known:
    """What is known of all items."""

    rows: dict[str, tuple[Row, ...]]
    applied: Applied
    losses: dict[str, Loss]
    doubtful: frozenset[str]  # items with an open question
    unmade: dict[str, Absence]  # items without a reading whose team was absent


def measured(store: Store, study: Study, plan: Plan) -> Measured:
    """Return one value for each item of the plan and each response of the study.

    Raises
    ------
    RecordError : the record can't be read.
    StudyError : a response names no reducer, or gives it settings it can't use.
    """
    return measured_state(store.state(), study, plan)


def measured_state(state: State, study: Study, plan: Plan) -> Measured:
    """Return the same from what a record said at one moment."""
    codes = {row.item for row in plan.rows}
    exchanges = [one for one in state.exchanges if one.pair <= codes]
    otherwise = tuple(one for one in state.otherwise if _is_of(one, plan))
    result = _applied(state, plan)
    rows: dict[str, tuple[Row, ...]] = {}
    for row in sorted(result.rows, key=lambda row: (row.item, row.reading or 0, row.place)):
        rows[row.item] = (*rows.get(row.item, ()), row)
    still = tuple(question for question in state.questions if question.answer is None)
    known = _Known(
        rows,
        result,
        {loss.item: loss for loss in state.losses},
        _doubtful(still, exchanges),
        not_made(state.absences, plan, rows),
    )
    away = [(one, finished_by(one, known.losses, plan, rows)) for one in state.away]
    values = []
    counts = {}
    beside = {row.item: _beside(rows.get(row.item, ()), _surroundings(study)) for row in plan.rows}
    for response in study.responses:
        columns = reducer_of(response).columns(response)
        of_response = [
            replace(
                _item_value(row.item, response, columns, known),
                surroundings=beside[row.item][0],
                clock=beside[row.item][1],
            )
            for row in plan.rows
        ]
        counts[response.name] = sum(value.readings for value in of_response)
        values.extend(of_response)
    return Measured(
        digest=state.digest(),
        values=tuple(values),
        open_questions=still,
        corrections=result.corrections,
        corrected=result.corrected,
        departures=(
            *_departures(state, codes),
            *(
                taken_back_told(one, known.losses, rows)
                for one in state.taken_back
                if one.loss.item in codes
            ),
            *(exchange_sentence(one) for one in exchanges),
            *(otherwise_sentence(one, study, plan) for one in otherwise),
            *(absence_told(one, study, plan, rows) for one in state.absences),
            *(placed_told(one, plan) for one in state.placed),
            *(away_told(one, mine, study) for one, mine in away),
            *(away_taken_back_told(one, plan, study) for one in state.away_back),
            *missing_told(state.missing, study),
            *(missing_taken_back_told(one, study) for one in state.missing_back),
        ),
        n_readings=counts,
        otherwise=otherwise,
        answered=tuple(question for question in state.questions if question.answer is not None),
        finished={item: team for _, mine in away for item, team in mine.items()},
        readings=tuple(row for one in plan.rows for row in rows.get(one.item, ())),
    )


def counting_rows(state: State, plan: Plan) -> tuple[Row, ...]:
    """Return the readings with all answers and exchanges applied: what counts now."""
    return _applied(state, plan).rows


def _applied(state: State, plan: Plan) -> Applied:
    codes = {row.item for row in plan.rows}
    exchanges = [one for one in state.exchanges if one.pair <= codes]
    return applied(state.rows, state.questions, exchanges)


def _doubtful(still: Sequence[Question], exchanges: Sequence[Exchange]) -> frozenset[str]:
    """Return the items that open questions are about, whichever label they had."""
    asked = {item for q in still for item in (q.item, q.partner) if item}
    return frozenset(asked.union(*(one.pair for one in exchanges if one.pair & asked)))


def _is_of(one: Otherwise, plan: Plan) -> bool:
    """Return whether a plan has what was told to be made otherwise."""
    names = (
        (f.name for f in plan.factors) if one.kind == "factor" else (g.name for g in plan.groups)
    )
    return one.name in names and any(row.item == one.item for row in plan.rows)


def _surroundings(study: Study) -> tuple[Column, ...]:
    """Return the columns that tell of conditions around an item, whichever response asks for it."""
    columns = {
        column.name: column
        for response in reversed(study.responses)
        for column in reducer_of(response).columns(response)
        if column.surroundings
    }
    return tuple(columns.values())


def _beside(
    rows: Sequence[Row], columns: Sequence[Column]
) -> tuple[dict[str, float], float | None]:
    """Return the mean of each condition over an item's readings, and of their times of day."""
    readings = [reading for _, reading in item_readings(rows, columns)]
    found = {
        column.name: [float(reading[column.name]) for reading in readings if column.name in reading]
        for column in columns
    }
    times = [minutes for row in rows if (minutes := moment(row.time).minutes) is not None]
    means = {name: statistics.fmean(numbers) for name, numbers in found.items() if numbers}
    return means, statistics.fmean(times) if times else None


def item_readings(
    rows: Sequence[Row], columns: Sequence[Column]
) -> list[tuple[Row, dict[str, Decimal]]]:
    """Return the readings of one item as the reducer takes them, each with its row.

    A row without any number of these columns is no reading of this response. A number that is
    filled in once for each item counts for all its readings. A number is given in the unit that its
    column has now, whatever that was when the number was taken in.
    """
    once: dict[str, Decimal] = {}
    readings: list[tuple[Row, dict[str, Decimal]]] = []
    single = [column.name for column in columns if column.per == "item"]
    for row in rows:
        reading: dict[str, Decimal] = {}
        for column in columns:
            for cell in row.cells:
                if cell.column == column.name:
                    number = in_column_unit(cell, column.unit)
                    if number is not None:
                        reading[column.name] = number
        for name in single:
            if name in reading:
                once.setdefault(name, reading.pop(name))
        if reading:
            readings.append((row, reading))
    return [(row, {**reading, **once}) for row, reading in readings] if once else readings


def in_column_unit(cell: Cell, unit: str) -> Decimal | None:
    """Return the number of a cell in a unit; a unit of another kind was mended, and counts."""
    if cell.value is None or cell.number is None:
        return cell.value
    if cell.unit == unit:
        return cell.number
    if not convertible(cell.unit, unit):
        return cell.value
    return convert(cell.number, cell.unit, unit)


def _item_value(
    item: str, response: Response, columns: Sequence[Column], known: _Known
) -> ItemValue:
    rows = known.rows.get(item, ())
    readings = [reading for _, reading in item_readings(rows, columns)]
    reduced = reducer_of(response).reduce(response, readings)
    each = [reducer_of(response).reduce(response, [reading]).value for reading in readings]
    reduced_sd = _deviation([value for value in each if value is not None])
    failed = _failed(item, response, rows, reduced, known)
    if failed:
        return _value(item, response, "failed", reduced, failed)
    at_least = reduced.at_least is not None and item not in known.applied.waiting
    if reduced.value is None and not at_least:
        return _without_value(item, response, reduced, known)
    reason = known.applied.touched.get(item, "")
    if item in known.losses:
        later = say("lost after it was measured: {why}", why=known.losses[item].why)
        reason = f"{reason}; {later}" if reason else later
    found = _value(item, response, "at least" if at_least else "measured", reduced, reason)
    return replace(found, reading_sd=reduced_sd)


def _deviation(values: Sequence[float]) -> float | None:
    return statistics.stdev(values) if len(values) > 1 else None


def _value(item: str, response: Response, status: str, reduced: Reduced, reason: str) -> ItemValue:
    return ItemValue(
        item=item,
        response=response.name,
        status=status,  # type: ignore[arg-type]  # one of the six words, from this module only
        value=reduced.value,
        exact=reduced.exact,
        uncertainty=reduced.uncertainty,
        readings=reduced.used,
        reason=reason,
        notes=reduced.notes,
        at_least=reduced.at_least if status == "at least" else None,
    )


def _failed(
    item: str, response: Response, rows: Sequence[Row], reduced: Reduced, known: _Known
) -> str:
    """Return why the item counts as made but not working, or an empty text."""
    if any(row.worked is False for row in rows):
        note = next((row.note for row in rows if row.worked is False and row.note), "")
        return say("it did not work ({note})", note=note) if note else say("it did not work")
    value, unit = reduced.value, f" {nice(response.unit)}" if response.unit else ""
    if value is None:
        return ""
    rule = response.failed
    if rule is not None and value < rule.below:
        return rule.text or say(
            "{value} is below {limit}", value=f"{value:.3g}{unit}", limit=f"{rule.below:g}{unit}"
        )
    ratio = response.compare == "ratio"
    if ratio and value <= 0:
        return say("{value}: nothing to measure", value=f"{value:.3g}{unit}")
    if reduced.weak_fails and (ratio or (rule is not None and rule.below > 0)):
        weak = reduced.uncertainty is not None and value < _WEAK * reduced.uncertainty
        if weak and item not in known.doubtful:
            return say(
                "too weak to measure: {value} is less than 3 times its uncertainty, {uncertainty}",
                value=f"{value:.3g}{unit}",
                uncertainty=f"{reduced.uncertainty:.2g}{unit}",
            )
    return ""


def _without_value(item: str, response: Response, reduced: Reduced, known: _Known) -> ItemValue:
    if item in known.losses:
        return _value(item, response, "lost", reduced, known.losses[item].why)
    if item in known.applied.waiting:
        asked = ", ".join(known.applied.waiting[item])
        why = say("waits for an answer to {questions}", questions=asked)
        return _value(item, response, "unmeasured", reduced, why)
    if item in known.applied.dropped:
        return _value(item, response, "set aside", reduced, known.applied.dropped[item])
    if item in known.unmade:
        absence = known.unmade[item]
        why = say("{team} was absent: {why}", team=absence.team, why=absence.why)
        return replace(_value(item, response, "lost", reduced, why), never_made=True)
    return _value(item, response, "unmeasured", reduced, "; ".join(reduced.notes))


def _departures(state: State, codes: Collection[str]) -> tuple[str, ...]:
    """Return what was lost, read elsewhere or noted as done otherwise, one sentence each."""
    lost = [
        say("{item} was lost: {why}", item=loss.item, why=loss.why)
        for loss in state.losses
        if loss.item in codes
    ]
    elsewhere = [
        f"{_who(question)}: {question.found_told}"
        for question in state.questions
        if question.code in OUT_OF_PLACE and question.answer != "correct"
    ]
    noted = [_noted(question) for question in state.questions if question.code == DEVIATION]
    return (*lost, *elsewhere, *noted)


def _noted(question: Question) -> str:
    """Return what a note tells was done otherwise, and why it counts all the same or not."""
    found = question.found_told
    noted = f"{question.item}: {found}" if question.item else found
    if question.answer is None:
        return say("{note} was noted", note=noted)
    return say(
        "{note} was noted; counts as planned: {why} ({by})"
        if question.answer == "keep"
        else "{note} was noted; set aside: {why} ({by})",
        note=noted,
        why=question.answer_why,
        by=question.answer_by,
    )


def _who(question: Question) -> str:
    return listing([one for one in (question.item, question.partner) if one])
