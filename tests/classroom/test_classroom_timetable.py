"""Timetables against published optima, against trying everything, and minute by minute."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.classroom.bench import class_plan, class_study
from tests.classroom.by_the_minute import faults
from tests.sizes import examples
from trials.classroom.loads import chains_too_long
from trials.classroom.timetable import place
from trials.classroom.values import Placement, Room, Slot, Work
from trials.classroom.work import Job, job_of, room_of
from trials.study import Lessons

SHOPS = Path(__file__).parents[1] / "reference" / "job_shops"
FULL_EFFORT = 100  # CP-SAT's deterministic units; a third of them are enough to prove ft10


def _shop(name: str) -> tuple[Job, Room]:
    works: list[Work] = []
    for number, line in enumerate((SHOPS / f"{name}.txt").read_text().splitlines()):
        numbers = [int(text) for text in line.split()]
        for at, (machine, minutes) in enumerate(zip(numbers[::2], numbers[1::2], strict=True)):
            after = (len(works) - 1,) if at else ()
            works.append(Work(f"m{machine}", (f"job {number}",), f"{number}", minutes,
                              places=((f"m{machine}", 1),), after=after))  # fmt: skip
    machines = {name for work in works for name, _ in work.places}
    crews = {work.crew: 1 for work in works}
    return Job(tuple(works), (), ()), Room((0,), 5000, 0, 0, crews, dict.fromkeys(machines, 1))


@pytest.mark.parametrize(("name", "shortest"), [("ft06", 55), ("la01", 666)])
def test_published_job_shops(name: str, shortest: int) -> None:
    """Fisher & Thompson 1963 and Lawrence 1984: see tests/reference/job_shops."""
    job, room = _shop(name)
    placement = place(job, room, spread=False)
    assert (placement.status, placement.ends) == ("proved", shortest)
    assert faults(job, room, placement) == []


@pytest.mark.long
def test_the_famous_job_shop_of_ten_by_ten(
    effort: Callable[[int], int], evidence: Callable[[str, object], None]
) -> None:
    """ft10: 930, which took 26 years to prove; in a short search the bound and the find enclose it.

    With all the effort it is proved here too, in about 100 s.
    """
    job, room = _shop("ft10")
    placement = place(job, room, effort=effort(FULL_EFFORT), spread=False)
    assert placement.bound <= 930 <= placement.ends <= 1.05 * 930
    assert faults(job, room, placement) == []
    evidence("job_shop_ft10", {"status": placement.status, "ends": placement.ends})
    if effort(FULL_EFFORT) == FULL_EFFORT:
        assert (placement.status, placement.ends) == ("proved", 930)


# ---- against trying everything -----------------------------------------------------------------


@st.composite
def _small(draw: st.DrawFn, second: str = "st") -> tuple[Job, Room]:
    """Two items, of one both steps and of the other those given, in one or two short lessons."""
    works: list[Work] = []
    for item, steps in (("a", "st"), ("b", second)):
        for step in steps:
            first = step == "s"
            begun = bool(works) and works[-1].items == (item,)
            works.append(
                Work(
                    step,
                    (item,),
                    draw(st.sampled_from(["one", "two"])),
                    draw(st.integers(1, 2)),
                    waiting=draw(st.integers(0, 2)) if first else 0,
                    keeps=draw(st.sampled_from([None, 0, 1])) if first else None,
                    places=draw(st.sampled_from([(), (("pan", 1),), (("pan", 2),)])),
                    busy=draw(st.sampled_from([(), ("pan",)])),
                    between=first and draw(st.booleans()),
                    after=(len(works) - 1,) if begun else (),
                    session="" if first else draw(st.sampled_from(["S", item])),
                    flame=draw(st.booleans()),
                    flammable=draw(st.booleans()),
                )
            )
    orders = draw(st.sampled_from([(), ((0, 2),), ((2, 1),)]))
    starts, minutes = draw(st.sampled_from([((0,), 7), ((0, 6), 4)]))
    sessions = tuple(dict.fromkeys(work.session for work in works if work.session))
    room = Room(starts, minutes, draw(st.integers(0, 1)), 0, {"one": 1, "two": 2}, {"pan": 2})
    return Job(tuple(works), orders, sessions), room


def _ways(job: Job, room: Room) -> Iterator[tuple[int, ...]]:
    """Yield the starts of every timetable that breaks no rule."""
    times = []
    for work in job.works:
        if work.between:
            times.append([m for n in range(len(room.starts) + 1) for m in _gap_starts(room, n)])
        else:
            times.append([s + m for s in room.starts for m in range(room.minutes)])
    for starts in itertools.product(*times):
        slots = tuple(Slot(at, _number(room, at)) for at in starts)
        if not faults(job, room, Placement("found", slots)):
            yield starts


def _end(job: Job, starts: Sequence[int]) -> int:
    pairs = zip(starts, job.works, strict=True)
    return max((at + work.minutes for at, work in pairs if not work.between), default=0)


def _by_trying(job: Job, room: Room) -> int | None:
    """Return the end of the shortest of all timetables, in minutes of the clock."""
    return min((_end(job, starts) for starts in _ways(job, room)), default=None)


def _gap_starts(room: Room, number: int) -> range:
    begin, end = room.gap(number)
    if 0 < number < len(room.starts):
        return range(begin, end)
    return range(begin, begin + 3) if number else range(-3, 0)  # more would change nothing


def _number(room: Room, at: int) -> int:
    return max((n for n, start in enumerate(room.starts) if start <= at), default=0)


@pytest.mark.long
@given(st.lists(st.integers(10, 30), min_size=2, max_size=4, unique=True), st.data())
@settings(derandomize=True, max_examples=examples(25, 60), deadline=None)
def test_between_lessons_it_fits_into_the_hours_just_when_some_way_does(
    ends: list[int], data: st.DataObject
) -> None:
    """Two works of one adult between two lessons, tried at every minute of the time between."""
    ends = sorted(ends)[: len(ends) // 2 * 2]
    hours = tuple(zip(ends[::2], ends[1::2], strict=True))
    works: list[Work] = []
    for item in "ab":
        works += [
            Work("s", (item,), item, 1),
            Work(
                "fire", (item,), "the adult", data.draw(st.integers(1, 6)),
                waiting=data.draw(st.integers(0, 8)), between=True, places=(("oven", 1),),
                busy=data.draw(st.sampled_from([(), ("oven",)])), after=(len(works),),
            ),
            Work("t", (item,), item, 1, after=(len(works) + 1,)),
        ]  # fmt: skip
    room = Room((0, 30), 10, 0, 0, {"a": 1, "b": 1, "the adult": 1}, {"oven": 1}, hours)
    job = Job(tuple(works), (), ())
    found = place(job, room, spread=False)
    ways = [
        (first, second)
        for first, second in itertools.product(range(10, 30), repeat=2)
        if not faults(job, room, _in_between(first, second))
        and all(at + w.lasts("oven") <= 30 for at, w in ((first, works[1]), (second, works[4])))
    ]
    assert found.placed is bool(ways)
    if found.placed:
        assert faults(job, room, found) == []


def _in_between(first: int, second: int) -> Placement:
    """Two items begun in minute 0, with the adult at these minutes, and done in lesson 2."""
    starts = ((0, 0), (first, 1), (39, 1), (0, 0), (second, 1), (39, 1))
    return Placement("found", tuple(Slot(at, number) for at, number in starts))


@given(_small("t"))
@settings(derandomize=True, max_examples=40, deadline=None)
def test_as_short_as_the_shortest_of_all(case: tuple[Job, Room]) -> None:
    job, room = case
    placement = place(job, room, spread=False)
    best = _by_trying(job, room)
    if best is None:
        assert placement.status == "impossible"
        return
    assert placement.status == "proved"
    assert faults(job, room, placement) == []
    pairs = zip(placement.slots, job.works, strict=True)
    assert max(s.start + w.minutes for s, w in pairs if not w.between) == best
    tried = place(job, room, trial=True)
    assert tried.placed
    assert faults(job, room, tried) == []


@given(_small("t"), st.sampled_from([1, 2]))
@settings(derandomize=True, max_examples=40, deadline=None)
def test_as_short_as_the_shortest_where_each_crew_has_its_own(
    case: tuple[Job, Room], pans: int
) -> None:
    job, room = case
    room = replace(room, places={"pan": pans}, own=frozenset({"pan"}))
    placement, best = place(job, room, spread=False), _by_trying(job, room)
    assert placement.status == ("impossible" if best is None else "proved")
    if best is not None:
        assert faults(job, room, placement) == []
        pairs = zip(placement.slots, job.works, strict=True)
        assert max(s.start + w.minutes for s, w in pairs if not w.between) == best


@pytest.mark.parametrize("lessons", [2, 3])
def test_where_the_search_finds_none_the_work_is_placed_from_the_end(lessons: int) -> None:
    """With next to no effort the search itself ends with nothing."""
    study = class_study(lessons=Lessons(minutes=100))
    plan = class_plan(study)
    job, room = job_of(study, plan), room_of(study, plan, lessons)
    placement = place(job, room, effort=0.001, spread=False)
    best = place(job, room, spread=False)
    assert placement.status == "found"
    assert faults(job, room, placement) == []
    assert placement.bound <= best.ends <= placement.ends


@given(_small())
@settings(derandomize=True, max_examples=50, deadline=None)
def test_fewer_idle_hands_cost_no_minute_and_break_no_rule(case: tuple[Job, Room]) -> None:
    job, room = case
    plain, close = place(job, room, spread=False), place(job, room)
    assert (plain.status, plain.ends) == (close.status, close.ends)
    if close.placed:
        assert faults(job, room, close) == []
        assert close == place(job, room)


@given(_small("t"), st.integers(2, 3))
@settings(derandomize=True, max_examples=examples(20, 60), deadline=None)
def test_of_all_that_end_so_it_has_the_fewest_idle_minutes_and_the_least_lying(
    case: tuple[Job, Room], keeps: int
) -> None:
    """Each minute that something lies counts twice, and the longest as much for each."""
    job, room = case
    works = tuple(replace(w, keeps=keeps) if w.keeps is not None else w for w in job.works)
    job = replace(job, works=works)
    placement, best = place(job, room), _by_trying(job, room)
    if best is None:
        assert placement.status == "impossible"
        return
    assert faults(job, room, placement) == []
    costs = [_cost(job, ways) for ways in _ways(job, room) if _end(job, ways) == best]
    assert _cost(job, [slot.start for slot in placement.slots]) == min(costs)


def _cost(job: Job, starts: Sequence[int]) -> int:
    taught = [(at, work) for at, work in zip(starts, job.works, strict=True) if not work.between]
    lying = [
        at - starts[index] - job.works[index].minutes - job.works[index].waiting
        for at, work in taught
        for index in work.after
        if job.works[index].keeps is not None and not job.works[index].between
    ]
    return sum(at for at, _ in taught) + 2 * (sum(lying) + len(lying) * max(lying, default=0))


def test_what_keeps_for_a_short_time_is_begun_late() -> None:
    """One pair of scales for four: weighed from minute 3, 7, 11, 15; stirred 3 minutes before.

    By hand: each is stirred when the scales are free three minutes later, though all four hands
    could stir at once; nothing lies, and it is over as soon as with all stirred in minute 0.
    """
    works = [Work("stir", (item,), item, 3, keeps=14) for item in "abcd"]
    works += [
        Work("weigh", (item,), "w", 4, places=(("scales", 1),), after=(at,))
        for at, item in enumerate("abcd")
    ]
    job = Job(tuple(works), ((4, 5, 6, 7),), ())
    room = Room((0,), 40, 0, 0, dict.fromkeys("abcdw", 1), {"scales": 1})
    placement = place(job, room)
    assert (placement.status, placement.ends) == ("proved", 19)
    assert [slot.start for slot in placement.slots] == [0, 4, 8, 12, 3, 7, 11, 15]


@pytest.mark.parametrize(("people", "ends"), [(6, 4), (5, 8), (4, 8), (3, 12), (2, 12)])
def test_a_team_reads_as_many_at_a_time_as_it_has_twos(people: int, ends: int) -> None:
    """By hand: three readings of 4 minutes, each of which takes two of the team."""
    works = tuple(Work("measure", (item,), "a", 4, people=2) for item in "pqr")
    room = Room((0,), 20, 0, 0, {"a": 3}, people={"a": people})
    found = place(Job(works, (), ()), room)
    assert (found.status, found.ends) == ("proved", ends)
    assert faults(Job(works, (), ()), room, found) == []
    # three at once is what the checker sees where there aren't six
    at_once = Placement("found", (Slot(0, 0),) * 3)
    told = faults(Job(works, (), ()), room, at_once)
    assert any("needs 6 people" in one for one in told) is (people < 6)


def test_the_class_example_counts_its_people() -> None:
    study = class_study(lessons=Lessons(minutes=50, students=30, hands=3))
    plan = class_plan(study)
    job, room = job_of(study, plan), room_of(study, plan, 2)
    assert set(room.people.values()) == {5}
    assert {work.people for work in job.works if work.step == "measure"} == {2}
    assert {work.people for work in job.works if work.step != "measure"} == {1}


def test_what_is_left_is_begun_late_too() -> None:
    """All four were fetched in the same minute of lesson 1; the rest is as above, in lesson 2."""
    works = [Work("fetch", (item,), item, 1) for item in "abcd"]
    works += [
        Work("stir", (item,), item, 3, keeps=14, after=(at,)) for at, item in enumerate("abcd")
    ]
    works += [
        Work("weigh", (item,), "w", 4, places=(("scales", 1),), after=(at,))
        for at, item in enumerate("abcd", 4)
    ]
    job = Job(tuple(works), ((8, 9, 10, 11),), ())
    room = Room((0, 1440), 40, 0, 0, dict.fromkeys("abcdw", 1), {"scales": 1})
    placement = place(job, room, done=dict.fromkeys(range(4), 0), since=40)
    assert (placement.status, placement.ends) == ("proved", 40 + 19)
    begun = [slot.start - 1440 for slot in placement.slots[4:]]
    assert begun == [0, 4, 8, 12, 3, 7, 11, 15]


def test_what_somebody_ends_by_hand_is_over_before_the_clearing_up() -> None:
    """Two pieces of 3 minutes by one pair of hands, 10 of waiting: by hand from minute 5 and 8 on.

    In a lesson of 50 minutes with 5 + 5 to hand out and clear up there is time; in one of 25 the
    second would end at minute 21 and has to go into the next lesson.
    """
    for minutes, lessons in ((50, 1), (25, 2)):
        for attended in (0, 10):
            works = tuple(
                Work("brew", (item,), "a", 3, waiting=10, attended=attended) for item in ("x", "y")
            )
            room = Room(tuple(1440 * n for n in range(lessons)), minutes, 5, 5, {"a": 1})
            placement = place(Job(works, (), ("",)), room)
            assert placement.placed
            assert placement.lessons == (lessons if attended else 1)
            assert not faults(Job(works, (), ("",)), room, placement)
    late = replace(placement, slots=(Slot(5, 0), Slot(8, 0)))
    assert any("the waiting ends in the clearing up" in f for f in
               faults(Job(works, (), ("",)), room, late))  # fmt: skip


def test_a_waiting_that_no_lesson_has_room_for_is_named() -> None:
    work = Work("brew", ("x",), "a", 3, waiting=40, attended=40)
    room = Room((0,), 50, 5, 5, {"a": 1})
    assert place(Job((work,), (), ("",)), room).status == "impossible"
    (chain,) = chains_too_long(Job((work,), (), ("",)), room)
    assert (chain.steps, chain.minutes) == (("brew",), 43)
