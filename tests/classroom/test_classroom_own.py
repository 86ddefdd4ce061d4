"""Tools that each team has for itself: no team uses more than it has, and what one more costs."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.classroom.bench import STEPS, class_plan, class_study
from tests.classroom.by_the_minute import faults
from trials.classroom.agenda import counted_on, counted_on_by_team
from trials.classroom.lessons import Price, Schedule, one_more, schedule, timetable_of
from trials.classroom.loads import loads
from trials.classroom.rest import schedule_rest
from trials.classroom.timetable import place
from trials.classroom.values import Room, Work
from trials.classroom.work import Job, job_of
from trials.design.values import Plan
from trials.errors import StudyError
from trials.service.lessons_text import lesson_lines
from trials.service.plan_text import counted_lines
from trials.study import Equipment, Lessons, Study, parse_study, write_study

TEAMS = 6
THERE = class_study().equipment


def owned(*own: Equipment, coat: tuple[str, ...], **changes: Any) -> Study:
    """Return the class with tools of each team, which some steps use."""
    busy = changes.pop("busy", ())
    told = {"equipment": coat, "busy": busy, "waiting": 3, "minutes": changes.pop("minutes", 8)}
    first = STEPS[0].model_copy(update=told)
    adult = STEPS[1].model_copy(update={"equipment": ("oven", *changes.pop("heat", ()))})
    steps = (first, adult, *STEPS[2:])
    return class_study(steps=steps, equipment=(*THERE, *own), **changes)


def own(name: str, count: int = 1, **more: Any) -> Equipment:
    return Equipment(name=name, count=count, per="team", **more)


def most_in_use(found: Schedule, name: str) -> dict[str, int]:
    """Count minute by minute how many places each crew takes of a tool, at most."""
    used: Counter[tuple[str, int]] = Counter()
    for work, slot in zip(found.job.works, found.placement.slots, strict=True):
        waits = work.waiting if name in work.busy else 0
        for minute in range(slot.start, slot.start + work.minutes + waits):
            used[work.crew, minute] += dict(work.places).get(name, 0)
    crews = {crew for crew, _ in used}
    return {crew: max(n for (who, _), n in used.items() if who == crew) for crew in crews}


@pytest.fixture(scope="module")
def plan() -> Plan:
    return class_plan(class_study())


@given(st.integers(1, 2), st.integers(1, 2), st.booleans(), st.integers(1, 3))
@settings(derandomize=True, max_examples=8, deadline=None)
def test_no_team_ever_uses_more_than_it_has(
    plan: Plan, count: int, holds: int, keeps_busy: bool, hands: int
) -> None:
    study = owned(
        own("rod", count, holds=holds), coat=("rod",), heat=("rod",),
        busy=("rod",) if keeps_busy else (), lessons=Lessons(minutes=60, hands=hands),
    )  # fmt: skip
    found = schedule(study, plan, advise=False)
    assert found.placement.placed
    assert faults(found.job, found.room, found.placement) == []
    used = most_in_use(found, "rod")
    assert len(used) == TEAMS + 1
    assert max(used.values()) <= count * holds


def test_what_others_leave_on_their_table_is_no_help() -> None:
    """By hand: two of 4 minutes by two hands, with two rods of the class, or one of each team."""
    works = tuple(Work("coat", (item,), "a", 4, places=(("rod", 1),)) for item in "xy")
    job = Job(works, (), ("",))
    room = Room((0,), 20, 0, 0, {"a": 2, "b": 2}, {"rod": 2})
    alone = replace(room, places={"rod": 1}, own=frozenset({"rod"}))
    assert [place(job, one).ends for one in (room, alone)] == [4, 8]
    assert [(one.crew, one.wanted) for one in loads(job, alone) if one.name == "rod"] == [("a", 8)]
    both = replace(job, works=(works[0], replace(works[1], crew="b")))
    assert [place(both, one).ends for one in (room, alone)] == [4, 4]
    assert "2 in the rod of a" in faults(job, alone, place(job, room))[0]


def test_one_more_for_each_team_is_told_and_counted_in_pieces() -> None:
    """By hand: a team's three are coated in 3 x 15 = 45 of 40 minutes, with two rods in 30."""
    lessons = Lessons(minutes=50, count=2, hands=3)
    study = owned(own("rod"), coat=("rod",), minutes=15, lessons=lessons)
    drawn = class_plan(study)
    found = schedule(study, drawn)
    assert found.placement.status == "impossible"
    (cure,) = (one for one in found.cures if one.kind == "equipment")
    assert (cure.name, cure.amount, len(cure.crews)) == ("rod", TEAMS, TEAMS)
    assert cure.price == Price("equipment", TEAMS)
    told = "\n".join(lesson_lines(study, found))
    assert "One more rod for each team: then it can be done in 2 lessons." in told
    assert f"{TEAMS} things to borrow or buy" in told
    two = study.model_copy(update={"equipment": (*THERE, own("rod", 2))})
    assert schedule(two, drawn, advise=False).placement.placed


def test_what_is_tight_of_each_team_is_one_line(plan: Plan) -> None:
    study = owned(own("rod"), coat=("rod",), lessons=Lessons(minutes=24, count=2, hands=3))
    found = schedule(study, plan, advise=False)
    assert not found.placement.placed
    mine = [one for one in found.loads if one.name == "rod"]
    assert [one.crew for one in mine] == sorted(one.crew for one in mine)
    assert {(one.wanted, one.offered) for one in mine} == {(24, 2 * 14)}  # 3 of 8 minutes
    lines = [line for line in lesson_lines(study, found) if "The rod" in line]
    assert lines == ["  The rod for each team: wanted for 24 minutes, there are 28."]


def test_one_more_is_for_those_who_still_use_it() -> None:
    works = [Work("coat", (item,), crew, 4, places=(("rod", 1),)) for item, crew in ("xa", "yb")]
    works.append(Work("close", ("x",), "c", 4))
    room = Room((0,), 20, 0, 0, {}, {"rod": 1}, own=frozenset({"rod"}))
    both, after = one_more(works, room, "rod", 1), one_more(works[1:], room, "rod", 1)
    assert (both.amount, both.crews) == (2, ("a", "b"))
    assert (after.amount, after.crews) == (1, ("b",))
    shared = one_more(works, replace(room, own=frozenset()), "rod", 1)
    assert (shared.amount, shared.crews) == (1, ())


# ---- a piece is out of order ---------------------------------------------------------------------


def _kept(study: Study, plan: Plan) -> Plan:
    table = timetable_of(study, schedule(study, plan, advise=False))
    assert table is not None
    return plan.model_copy(update={"timetable": table})


def test_where_one_is_out_of_order_the_class_shares_what_is_left(plan: Plan) -> None:
    study = owned(own("rod"), coat=("rod",), lessons=Lessons(minutes=60, hands=3))
    kept = _kept(study, plan)
    found = schedule_rest(study, kept, since=1, fewer={"rod": 2})
    assert found.placement.placed
    assert (found.room.places["rod"], found.room.own) == (TEAMS - 2, frozenset())
    assert faults(found.job, found.room, found.placement) == []
    whole = schedule_rest(study, kept, since=1)
    assert (whole.room.places["rod"], whole.room.own) == (1, frozenset({"rod"}))


def test_one_piece_that_is_back_is_shared_by_all(plan: Plan) -> None:
    """The adult uses tongs at the oven; of the teams nobody does, and theirs go before the last."""
    study = owned(own("tongs"), coat=(), heat=("tongs",))
    one_left = schedule_rest(study, _kept(study, plan), since=1, fewer={"tongs": TEAMS})
    assert one_left.placement.placed
    none = schedule_rest(study, _kept(study, plan), since=1, fewer={"tongs": TEAMS + 1})
    assert [one.equipment for one in none.stuck] == ["tongs"]
    (cure,) = (one for one in none.cures if one.kind == "equipment")
    assert (cure.name, cure.amount, cure.crews) == ("tongs", 1, ())


# ---- what goes in and comes out together ---------------------------------------------------------


def test_into_its_own_oven_each_team_puts_its_own() -> None:
    """By hand: three items of each of six teams, two on a hot plate: 2 + 1 for each team."""
    study = owned(own("plate", holds=2, together=True), coat=("plate",))
    drawn = class_plan(study)
    job = job_of(study, drawn)
    warmed = [work for work in job.works if work.step == "coat"]
    team = {row.item: row.groups["team"] for row in drawn.rows}
    assert [len(work.items) for work in warmed].count(2) == TEAMS == len(warmed) / 2
    assert all({team[item] for item in work.items} == {work.crew} for work in warmed)
    assert len({work.group for work in warmed}) == len(warmed)
    lines = [o for o in job.orders if job.works[o[0]].step == "coat"]
    assert [len({job.works[at].crew for at in line}) for line in lines] == [1] * TEAMS
    found = schedule(study, drawn, advise=False)
    assert faults(found.job, found.room, found.placement) == []
    shared = owned(Equipment(name="plate", count=6, holds=2, together=True), coat=("plate",))
    works = [work for work in job_of(shared, drawn).works if work.step == "coat"]
    assert any(len({team[item] for item in work.items}) > 1 for work in works)


# ---- what study.toml may say ---------------------------------------------------------------------


def test_per_team_is_written_and_read_and_unsaid_it_is_the_class() -> None:
    study = owned(own("rod", 2), coat=("rod",))
    text = write_study(study)
    assert '[equipment.rod]\ncount = 2\nper = "team"\n' in text
    assert parse_study(text) == study
    assert 'per = "class"' not in text
    said = parse_study(text.replace('per = "team"', 'per = "class"'))
    assert said.digest() == parse_study(text.replace('per = "team"\n', "")).digest()
    assert said.digest() != study.digest()


def test_per_team_is_refused_without_teams_and_so_is_any_other_word() -> None:
    text = write_study(owned(own("rod"), coat=("rod",)))
    with pytest.raises(StudyError, match="the study has no teams") as caught:
        parse_study(text.replace('role = "maker"\n', ""))
    assert caught.value.code == "study.equipment_per_team"
    assert caught.value.where.endswith("equipment.rod.per")
    assert 'role = "maker"' in caught.value.do
    with pytest.raises(StudyError) as caught:
        parse_study(text.replace('per = "team"', 'per = "table"'))
    assert caught.value.allowed == "class, team"
    assert caught.value.where.endswith("equipment.rod.per")


# ---- what is counted on without a number ---------------------------------------------------------


def test_what_one_team_uses_at_once_is_told_too(plan: Plan) -> None:
    study = owned(coat=("rod",), heat=("tongs",), lessons=Lessons(minutes=60, hands=3))
    kept = _kept(study, plan)
    assert kept.timetable is not None
    found = schedule(study, plan, advise=False)
    job = [
        replace(work, places=(("rod", 1),) if work.step == "coat" else ())
        for work in found.job.works
    ]
    used = most_in_use(replace(found, job=replace(found.job, works=tuple(job))), "rod")
    assert counted_on_by_team(study, kept) == {"rod": max(used.values())}  # tongs: of the adult
    assert counted_on(study, kept)["tongs"] == 1
    (told,) = counted_lines(study, kept)
    assert f"at once (up to {max(used.values())} in one team)" in told
    assert told.endswith('or what each team has for itself: count = 1, per = "team"')
