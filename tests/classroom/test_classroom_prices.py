"""What each cure costs, worked out by hand, and the cheapest first."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.classroom.bench import class_plan, class_study
from trials.classroom.lessons import (
    DEAR,
    Cure,
    Helps,
    Price,
    Schedule,
    cheapest_first,
    schedule,
)
from trials.classroom.values import Placement, Room
from trials.classroom.work import Job
from trials.service.lessons_text import cure_lines, lesson_lines
from trials.study import Equipment, Lessons
from trials.words.lessons import CHEAPEST_FIRST

KINDS: tuple[Helps, ...] = ("equipment", "lessons", "minutes", "hands", "fewer", "hours", "waiting")
CURES = st.lists(
    st.builds(
        Cure,
        kind=st.sampled_from(KINDS),
        name=st.text("ab", max_size=2),
        amount=st.integers(1, 60),
        lessons=st.integers(1, 5),
    ),
    max_size=8,
)


def test_any_amount_of_one_kind_is_less_than_the_next() -> None:
    """The scale that the help texts tell: common practice, no source."""
    assert DEAR == ("agreement", "minutes", "hands", "equipment", "readings", "items")
    assert Price("minutes", 999).rank < Price("hands", 1).rank < Price("items", 1).rank


@pytest.mark.parametrize(
    ("cure", "price"),
    [
        (Cure("hours", "", 0, 2), Price("agreement")),
        (Cure("waiting", "soak", 0, 2), Price("agreement")),
        (Cure("waiting", "soak", 0, 3), Price("minutes", 50)),  # a lesson more than there are
        (Cure("minutes", "", 20, 2), Price("minutes", 20)),  # lesson 1 of the two is over
        (Cure("lessons", "", 2, 4), Price("minutes", 100)),
        (Cure("hands", "", 1, 2), Price("hands", 1)),
        (Cure("equipment", "oven", 1, 2), Price("equipment", 1)),
        (Cure("fewer", "", 6, 2), Price("items", 6)),
    ],
)
def test_prices_by_hand_in_two_lessons_of_50_minutes(cure: Cure, price: Price) -> None:
    (found,) = cheapest_first([cure], 2, 50, over=1)
    assert found == cure
    assert found.price == price


def test_much_longer_lessons_cost_more_than_one_more_lesson() -> None:
    """By hand: 60 minutes in each of 2 lessons are 120, one more lesson 50; 20 minutes are 40."""
    longer, more = Cure("minutes", "", 60, 2), Cure("lessons", "", 1, 3)
    assert cheapest_first([longer, more], 2, 50) == (more, longer)
    longer = Cure("minutes", "", 20, 2)
    assert cheapest_first([more, longer], 2, 50) == (longer, more)


@given(CURES)
def test_the_order_is_that_of_prices_and_equal_ones_stay_as_they_came(cures: list[Cure]) -> None:
    found = cheapest_first(cures, 2, 50)
    ranks = [one.price.rank for one in found if one.price]
    assert len(ranks) == len(cures)
    assert ranks == sorted(ranks)
    places = [next(n for n, one in enumerate(cures) if one is cure) for cure in _same(found, cures)]
    for rank in set(ranks):
        alike = [place for place, mine in zip(places, ranks, strict=True) if mine == rank]
        assert alike == sorted(alike)


def _same(found: tuple[Cure, ...], cures: list[Cure]) -> list[Cure]:
    """Return the cures that were given, in the order found; of equal ones the first comes first."""
    left = list(cures)
    return [left.pop(left.index(one)) for one in found]


def test_a_plan_that_does_not_fit_tells_the_cheapest_first() -> None:
    few = (Equipment(name="oven", holds=6, together=True), Equipment(name="meter pair", count=2))
    study = class_study(lessons=Lessons(minutes=50, count=2), equipment=few)
    found = schedule(study, class_plan(study))
    assert len(found.cures) > 1
    lines = lesson_lines(study, found)
    at = lines.index(f"  {CHEAPEST_FIRST}")
    told = lines[at + 1 :]
    assert len(told) == len(found.cures)
    assert " Cheapest: " in told[0]
    assert all(" Price: " in line for line in told[1:])
    assert "minutes of lessons in all." in told[0]


def test_a_single_cure_has_no_price_as_there_is_no_choice() -> None:
    study = class_study()
    one = cheapest_first([Cure("equipment", "oven", 1, 2)], 2, 50)
    found = Schedule(Job((), (), ()), Room((0,), 50, 0, 0), Placement("impossible"), True, (),
                     cures=one)  # fmt: skip
    lines = cure_lines(study, found, ("oven",), ())
    assert lines[1:] == ["- One more oven: done in 2 lessons. Leave out one '--without oven' then."]
