"""The timetable as it is handed out: hands, rows and parts."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.classroom.bench import class_plan, class_study
from trials.classroom.agenda import Turn, agenda_of, at_once, lanes, needed, used_up
from trials.classroom.lessons import schedule, timetable_of
from trials.classroom.materials import needs
from trials.classroom.values import Work
from trials.design.values import Plan, PlanRow
from trials.study import Material, Step


def turns(*spans: tuple[int, int]) -> list[Turn]:
    step = Step(name="fold")
    return [
        Turn(step, Work("fold", (f"I{n}",), "elm", minutes), start)
        for n, (start, minutes) in enumerate(sorted(spans))
    ]


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(1, 9)), min_size=1, max_size=25))
@settings(derandomize=True, max_examples=60, deadline=None)
def test_no_hand_does_two_things_and_no_hand_is_wasted(spans: list[tuple[int, int]]) -> None:
    laid = list(lanes(turns(*spans)))
    busy = [(lane, minute) for turn, lane in laid for minute in range(turn.start, turn.over)]
    assert len(busy) == len(set(busy))
    most = max(sum(s <= m < s + d for s, d in spans) for m in range(60))
    assert max(lane for _, lane in laid) + 1 == most


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(1, 9)), min_size=1, max_size=25))
@settings(derandomize=True, max_examples=60, deadline=None)
def test_as_many_are_in_use_at_once_as_a_count_minute_by_minute_says(
    spans: list[tuple[int, int]],
) -> None:
    step = Step(name="fold", equipment=("rod",), equipment_for={"red": ("lamp",)})
    laid = [
        Turn(step, Work("fold", (f"I{n}",), "elm", minutes), start)
        for n, (start, minutes) in enumerate(spans)
    ]
    rows = [
        PlanRow(item=f"I{n}", run=n, measure=n, factors={"colour": "red" * (n % 2)}, groups={})
        for n in range(len(spans))
    ]
    for name, mine in (("rod", spans), ("lamp", spans[1::2]), ("oven", [])):
        most = max(sum(s <= m < s + d for s, d in mine) for m in range(60))
        assert at_once(laid, name, rows) == most
    assert needed(step, ["red", "blue"]) == ("rod", "lamp")


def test_what_stays_busy_while_it_waits_is_in_use_then() -> None:
    step = Step(name="dry", equipment=("rack",), busy=("rack",))
    laid = [
        Turn(step, Work("dry", (f"I{n}",), "elm", 2, 10, busy=("rack",)), 2 * n) for n in (0, 1)
    ]
    assert at_once(laid, "rack", ()) == 2


def test_a_timetable_is_told_whole_and_in_the_order_of_time() -> None:
    study = class_study()
    plan = class_plan(study)
    table = timetable_of(study, schedule(study, plan, advise=False))
    assert table is not None
    plan = plan.model_copy(update={"timetable": table})
    agenda = agenda_of(study, plan)
    assert agenda is not None
    told = [
        (part.lesson, part.between, turn.start, turn.step.name, turn.work.items)
        for part in agenda.parts
        for turn in part.turns
    ]
    kept = [(w.lesson, w.between, w.start, w.step, w.items) for w in table.works]
    assert sorted(told) == sorted(kept)
    assert [(part.lesson, part.between) for part in agenda.parts] == [
        (1, False), (2, True), (2, False),
    ]  # fmt: skip
    for part in agenda.parts:
        starts = [turn.start for turn in part.turns]
        assert starts == sorted(starts)
        assert sum(len(row) for row in part.in_a_row) == len(part.turns)
    slower = study.model_copy(update={"steps": study.steps[:-1]})
    assert agenda_of(slower, plan) is None
    assert agenda_of(study, plan.model_copy(update={"timetable": None})) is None


def test_what_a_lesson_uses_up() -> None:
    step = Step(
        name="fold",
        materials=(
            Material(name="paper", amount=2),
            Material(name="glue", amount=5, unit="g", per="lesson"),
            Material(name="gloves", amount=3, per="team"),
            Material(name="ink", amount=2, unit="mL", level="red"),
            Material(name="rag", amount=1, per="team", level="red"),
            Material(name="chalk", amount=2, level="blue"),
        ),
    )
    done = [
        Turn(step, Work("fold", (f"I{n}",), crew, 4), 5)
        for n, crew in enumerate(["elm", "elm", "oak"])
    ]
    rows = [
        PlanRow(item=f"I{n}", run=n, measure=n, factors={"colour": level}, groups={})
        for n, level in enumerate(["green", "red", "green"])
    ]
    # by hand: 3 items of 2 sheets, once 5 g, 2 teams of 3, one red item of 2 mL in one team
    by_hand = {"paper": 6, "glue": 5, "gloves": 6, "ink": 2, "rag": 1}
    teams = {"I0": "elm", "I1": "elm", "I2": "oak"}
    assert {one.name: amount for one, amount in used_up(done, rows, teams).items()} == by_hand
    # who is no team does it for the teams; where there are no teams, a share is taken once
    adult = [replace(turn, work=replace(turn.work, crew="the adult")) for turn in done]
    assert {one.name: n for one, n in used_up(adult, rows, teams).items()} == by_hand
    alone = used_up(adult, rows, {})
    assert {one.name: n for one, n in alone.items()} == by_hand | {"gloves": 3}
    # elm was at it before: no rag is taken again; gloves are worn once, all else is used up
    later = {one.name: n for one, n in used_up(done, rows, teams, done[:2]).items()}
    assert later == {"paper": 6, "glue": 5, "gloves": 6, "ink": 2}


def test_two_steps_of_a_lesson_that_take_the_same_have_one_number() -> None:
    steps = [
        Step(name="fold", materials=(Material(name="paper", amount=2),)),
        Step(name="cut", materials=(Material(name="Paper ", amount=1),)),
    ]
    done = [Turn(step, Work(step.name, ("I0",), "elm", 4), 5) for step in steps]
    rows = [PlanRow(item="I0", run=1, measure=1, factors={}, groups={})]
    assert {m.name: n for m, n in used_up(done, rows, {"I0": "elm"}).items()} == {"paper": 3}


STUDY = class_study()
PLAN = class_plan(STUDY)


@pytest.fixture(scope="module")
def timed() -> Plan:
    table = timetable_of(STUDY, schedule(STUDY, PLAN, advise=False))
    return PLAN.model_copy(update={"timetable": table})


@given(st.randoms(use_true_random=False))
@settings(derandomize=True, max_examples=30, deadline=None)
def test_lessons_together_take_what_the_list_of_materials_has(timed: Plan, luck: Random) -> None:
    """Two ways of counting, lesson by lesson and step by step, whatever is done in which lesson."""
    level = STUDY.factors[0].levels[0]
    used = (
        Material(name="slide", amount=0.1),
        Material(name="ink", amount=0.3, unit="mL", level=level),
        Material(name="gloves", amount=3, unit="pair", per="team"),
        Material(name="rag", amount=1, per="team", level=level),
        Material(name="soap", amount=10, unit="mL", per="lesson"),
    )
    steps = tuple(
        step.model_copy(
            update={
                "materials": tuple(
                    one.model_copy(update={"name": f"{one.name} to {step.name}"}) for one in used
                )
            }
        )
        for step in STUDY.steps
    )
    study = STUDY.model_copy(update={"steps": steps})
    assert timed.timetable is not None
    works = tuple(
        work if work.between else work.model_copy(update={"lesson": luck.choice((1, 2))})
        for work in timed.timetable.works
    )
    plan = timed.model_copy(
        update={"timetable": timed.timetable.model_copy(update={"works": works})}
    )
    agenda = agenda_of(study, plan)
    assert agenda is not None
    team_of = {row.item: row.groups["team"] for row in plan.rows}
    told: dict[str, Decimal] = {}
    before: list[Turn] = []
    for part in agenda.parts:
        for one, amount in used_up(part.turns, plan.rows, team_of, before).items():
            told[one.name] = told.get(one.name, Decimal(0)) + amount
        before += part.turns
    asked = {need.material.name: need.each * need.times for need in needs(study, plan)}
    assert told == asked
