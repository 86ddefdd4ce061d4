"""The ready example for a class of thirty fits into its two lessons, with real times."""

from __future__ import annotations

import pytest

from tests.classroom.by_the_minute import faults
from tests.design.unchecked import draw
from trials.classroom.lessons import Schedule, schedule
from trials.service.examples import example_folder
from trials.study import Study, read_study


@pytest.fixture(scope="module")
def study() -> Study:
    return read_study(example_folder("lessons") / "study.toml")


@pytest.fixture(scope="module", params=[1, 7])
def found(request: pytest.FixtureRequest, study: Study) -> Schedule:
    plan = draw(study, seed=request.param)
    return schedule(study, plan, advise=False)


def test_it_is_proved_for_two_lessons_of_fifty_minutes(found: Schedule) -> None:
    assert (found.placement.status, found.placement.lessons) == ("proved", 2)
    assert (found.room.minutes, found.room.working) == (50, 40)
    assert found.whole
    assert faults(found.job, found.room, found.placement) == []


def test_there_is_time_to_spare(found: Schedule) -> None:
    # by hand: six are closed from minute 5 to 9, measured from minute 11 on, 24 cells with 4 pairs
    # of meters, 4 minutes each; a draw that brings one team's cells together costs a few more
    assert 50 + 5 + 4 + 2 + 24 // 4 * 4 == 85 <= found.placement.ends <= 50 + 45 - 4


def test_no_team_uses_more_of_a_thing_than_it_has(found: Schedule, study: Study) -> None:
    """Common practice, no source: of each tool one or two for a team of five students."""
    tools = {one.name: one for one in study.equipment}
    places = {one.name: one.count * one.holds for one in study.equipment}
    used = {name for step in study.steps for name in step.equipment}
    adults = {"tongs", "heat-proof gloves", "hot sign"}  # one of each, for the adult at the oven
    assert used - tools.keys() == adults
    own = {name for name in tools if tools[name].per == "team"}
    for_all = {name for name in tools.keys() - own if tools[name].holds > 24}  # nobody waits
    assert for_all == {"kettle", "refrigerator for chemicals"}
    assert tools.keys() - own - for_all == {"oven", "meter pair"}
    assert all(tools[name].count in (1, 2) for name in own)
    spans = [
        (slot.start, slot.start + work.lasts(name), name, work.crew if name in own else "all")
        for work, slot in zip(found.job.works, found.placement.slots, strict=True)
        for name, _ in work.places
        if not work.between
    ]
    for begin, _, *mine in spans:  # most are in use in a minute in which one more is taken up
        assert sum(a <= begin < b for a, b, *other in spans if other == mine) <= places[mine[0]]


def test_slides_have_room_where_they_dry(found: Schedule) -> None:
    """The paste dries on the tray for its 5 minutes: counted on the trays of each team, by hand."""
    lying: dict[tuple[str, int], int] = {}
    for work, slot in zip(found.job.works, found.placement.slots, strict=True):
        for minute in range(slot.start, slot.start + 7 + 5) if work.step == "coat" else ():
            lying[work.crew, minute] = lying.get((work.crew, minute), 0) + 1
    assert max(lying.values()) <= 2 * 2  # two trays for two slides each


def test_the_first_lesson_has_a_few_minutes_to_spare(found: Schedule) -> None:
    # by hand, a team of four cells with a bowl for two and two glass rods: two are washed, two
    # coated then; so the last two are coated after 5 + 7 and dry 12 later, their dye is weighed one
    # after the other and ready after 5 more, of 40 minutes in all
    assert 5 + 7 + 7 + 5 + 2 * 3 + 5 == 35 == found.room.working - 5
    ends = [
        slot.start + work.minutes + work.attended
        for work, slot in zip(found.job.works, found.placement.slots, strict=True)
        if slot.lesson == 0 and not work.between
    ]
    assert max(ends) == 5 + 35 == 50 - 5 - 5


def test_the_adult_fires_six_at_a_time_and_never_in_a_lesson(found: Schedule) -> None:
    fired = [work for work in found.job.works if work.step == "heat"]
    assert [len(work.items) for work in fired] == [6, 6, 6, 6]
    assert all(work.between and work.crew == "the responsible adult" for work in fired)


def test_times_are_those_of_the_trade(study: Study) -> None:
    # Common practice, no source: a sweep or three readings take 4 to 6 minutes a cell and meter
    # pair; half an hour at 450 degrees, and an oven that cools with its door shut.
    steps = {step.name: step for step in study.steps}
    assert 4 <= (steps["measure"].minutes or 0) <= 6
    assert "meter pair" in steps["measure"].equipment
    assert (steps["heat"].waiting or 0) > 60
    assert (study.limits.items, study.group("team").count) == (24, 6)
    assert study.lessons is not None
    assert study.lessons.students == 30


def test_no_flame_and_nothing_that_catches_fire(study: Study) -> None:
    assert not any(one.flame for one in study.equipment)
    assert not any(step.flammable for step in study.steps)
    told = " ".join([*(s.text for s in study.steps), *study.same]).casefold()
    assert not any(word in told for word in ("alcohol", "ethanol", "burner", "candle"))


def test_what_is_used_up_is_said_with_amounts(study: Study) -> None:
    used = {one.name: one for step in study.steps for one in step.materials}
    assert used["conductive slide"].amount == 2
    assert {one.per for one in used.values()} == {"item", "team", "lesson"}


def test_what_stays_and_who_carries_is_said(study: Study) -> None:
    """Common practice, no source."""
    heat = next(step.text for step in study.steps if step.name == "heat")
    soak = next(step.text for step in study.steps if step.name == "soak")
    assert "The adult collects the coated slides after lesson 1" in heat
    assert "cool down inside with the door shut; all this is in the waiting" in heat
    assert "The adult carries the dishes to the tables" in soak
    assert any("slide without paste" in one and "until lesson 2" in one for one in study.same)


def test_what_each_class_has_of_its_own_stands_together_at_the_top() -> None:
    text = (example_folder("lessons") / "study.toml").read_text(encoding="utf-8")
    own = ("makers =", "note =", "[groups.team]", "[limits]", "[lessons]", "[stock]", "[equipment]")
    assert sorted(own, key=text.index) == list(own)
    leave = text.index("# ---- Leave this for now")
    assert text.index('"meter pair" = ') < leave < text.index('per = "team"')
    assert text.rindex(" = { count") < text.index("[factors.")
    mine = text[text.index("# ---- Write yours") : leave]
    assert len(mine.split()) < 220  # a minute to read
