"""The timetable as it is handed out: hands, rows and parts."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.classroom.bench import class_plan, class_study
from trials.classroom.agenda import Turn, agenda_of, lanes, used_up
from trials.classroom.lessons import schedule, timetable_of
from trials.classroom.values import Work
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
        ),
    )
    done = [
        Turn(step, Work("fold", (f"I{n}",), crew, 4), 5)
        for n, crew in enumerate(["elm", "elm", "oak"])
    ]
    # by hand: 3 items of 2 sheets, once 5 g, 2 teams of 3
    assert {one.name: amount for one, amount in used_up(done, 2).items()} == {
        "paper": 6, "glue": 5, "gloves": 6,
    }  # fmt: skip
