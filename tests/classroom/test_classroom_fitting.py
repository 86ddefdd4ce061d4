"""The most items that can be done, against trying every set of them."""

from __future__ import annotations

from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.classroom.by_the_minute import faults
from trials.classroom.timetable import most_items, place
from trials.classroom.values import Room, Work
from trials.classroom.work import Job

_NAMES = ("a", "b", "c", "d", "e")


def _job(items: tuple[str, ...], close: int, measure: int, teams: int) -> Job:
    """Return a job of two steps: closing by the team, then measuring within 3 minutes."""
    works: list[Work] = []
    for number, item in enumerate(_NAMES):
        if item not in items:
            continue
        works.append(Work("close", (item,), f"team {number % teams}", close, waiting=1, keeps=3))
        works.append(
            Work("measure", (item,), f"team {number % teams}", measure,
                 places=(("meter", 1),), after=(len(works) - 1,))
        )  # fmt: skip
    return Job(tuple(works), (), ("",))


def _room(minutes: int, meters: int, teams: int, lessons: int) -> Room:
    return Room(
        tuple(1440 * number for number in range(lessons)), minutes, 2, 2,
        {f"team {number}": 1 for number in range(teams)}, {"meter": meters},
    )  # fmt: skip


@settings(max_examples=25, deadline=None)
@given(
    minutes=st.integers(12, 26),
    step=st.tuples(st.integers(1, 5), st.integers(1, 6)),
    there=st.tuples(st.integers(0, 2), st.integers(1, 3)),
    lessons=st.integers(1, 2),
)
def test_no_other_choice_has_more(
    minutes: int, step: tuple[int, int], there: tuple[int, int], lessons: int
) -> None:
    (close, measure), (meters, teams) = step, there
    room = _room(minutes, meters, teams, lessons)
    found = most_items(_job(_NAMES, close, measure, teams), room)
    best = 0
    for number in range(len(_NAMES), 0, -1):
        if any(
            place(_job(some, close, measure, teams), room, spread=False).placed
            for some in combinations(_NAMES, number)
        ):
            best = number
            break
    assert (len(found.kept), found.bound) == (best, best)
    assert sorted((*found.kept, *found.left_out)) == list(_NAMES)
    job = _job(found.kept, close, measure, teams)
    if found.kept:
        placement = place(job, room)
        assert placement.placed
        assert not faults(job, room, placement)


def test_of_equal_numbers_the_balanced_ones_are_kept() -> None:
    room = _room(14, 1, 5, 1)  # 10 minutes: 2 + 1 until the first is ready, then 7: two of 3
    job = _job(_NAMES, 2, 3, 5)
    for alike in ((("a", "b", "c"), ("d", "e")), (("a", "d", "e"), ("b", "c"))):
        found = most_items(job, room, alike=alike)
        assert len(found.kept) == 2
        assert [sum(item in found.kept for item in some) for some in alike] == [1, 1]
