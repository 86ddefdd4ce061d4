"""Who reads what: a ring of the teams, and who takes over when some are away."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.classroom.bench import STEPS, class_plan, class_study
from tests.classroom.by_the_minute import faults, misread
from trials.classroom.lessons import schedule, timetable_of
from trials.classroom.readers import Helpers, read_again, reader_of, ring_after
from trials.classroom.rest import hand_over, schedule_rest
from trials.classroom.values import Work
from trials.classroom.work import EVERYONE, job_of
from trials.design.values import Plan
from trials.study import Equipment, StudyGroup

STUDY = class_study()
PLAN = class_plan(STUDY)
TEAMS = PLAN.groups[0].members
CODES = [row.item for row in PLAN.rows]
TEAM = {row.item: row.groups["team"] for row in PLAN.rows}


@pytest.fixture(scope="module")
def timed() -> Plan:
    return PLAN.model_copy(
        update={"timetable": timetable_of(STUDY, schedule(STUDY, PLAN, advise=False))}
    )


def readings(works: tuple[Work, ...]) -> dict[str, str]:
    return {item: work.crew for work in works if work.step == "measure" for item in work.items}


# ---- the ring ----------------------------------------------------------------------------------


@given(st.lists(st.text("abc", min_size=1), min_size=2, unique=True), st.data())
def test_each_asks_the_next_one_and_each_is_asked_once(
    teams: list[str], data: st.DataObject
) -> None:
    """With one maker a ring; with several the first one behind who isn't among them."""
    asked = {team: reader_of(teams, (team,)) for team in teams}
    assert sorted(asked.values()) == sorted(teams)
    assert all(asked[one] == after for one, after in pairwise(teams))
    assert asked[teams[-1]] == teams[0]
    makers = data.draw(st.lists(st.sampled_from(teams), min_size=1, unique=True))
    reader = reader_of(teams, makers)
    if len(makers) == len(teams):
        assert reader == makers[0]
    else:
        ring = ring_after(teams, makers[0])
        assert reader not in makers
        assert set(ring[: ring.index(reader)]) <= {*makers}


def test_each_team_reads_as_much_as_is_read_of_its_own() -> None:
    """18 items by 6 teams: each reads the three of the team before it, in a ring."""
    reads = readings(job_of(STUDY, PLAN).works)
    assert {TEAM[item]: who for item, who in reads.items()} == dict(
        zip(TEAMS, (*TEAMS[1:], TEAMS[0]), strict=True)
    )
    assert Counter(reads.values()) == dict.fromkeys(TEAMS, 3)
    others = [work for work in job_of(STUDY, PLAN).works if work.step not in ("measure", "heat")]
    assert all(work.crew == TEAM[work.items[0]] for work in others)


def test_who_measures_by_the_study_does_so_and_without_other_teams_all_stays() -> None:
    *making, measuring = STEPS
    helped = class_study(steps=(*making, measuring.model_copy(update={"by": "the helper"})))
    assert set(readings(job_of(helped, class_plan(helped)).works).values()) == {"the helper"}
    alone = class_study(groups=())
    assert set(readings(job_of(alone, class_plan(alone)).works).values()) == {EVERYONE}
    one = class_study(groups=(StudyGroup(name="team", count=1, role="maker"),))
    (team,) = class_plan(one).groups[0].members
    assert set(readings(job_of(one, class_plan(one)).works).values()) == {team}


def test_what_is_measured_together_is_read_by_who_made_none_of_it() -> None:
    """Two at a time under one lamp; with all six of a batch under it, the first maker's team."""
    for holds in (2, 6):
        lamp = Equipment(name="meter pair", count=1, holds=holds, together=True)
        study = class_study(equipment=(Equipment(name="oven", holds=6, together=True), lamp))
        works = [w for w in job_of(study, PLAN).works if w.step == "measure"]
        assert {len(work.items) for work in works} == {holds}
        for work in works:
            makers = [TEAM[item] for item in work.items]
            assert len(set(makers)) == holds
            ring = ring_after(TEAMS, makers[0])
            wanted = next((team for team in ring if team not in makers), makers[0])
            assert work.crew == wanted
        assert misread(PLAN, works) == []


# ---- when some are away ------------------------------------------------------------------------


@given(
    st.sets(st.sampled_from(TEAMS), max_size=len(TEAMS) - 1),
    st.sets(st.sampled_from(CODES), max_size=12),
    st.sampled_from([2, 4, 5, 6]),
)
@settings(derandomize=True, max_examples=150, deadline=None)
def test_whoever_is_away_others_read_and_nobody_their_own(
    away: set[str], gone: set[str], begun: int
) -> None:
    """``begun``: that many steps of all are over; of items measured by then the crew stays."""
    job = job_of(STUDY, PLAN, gone)
    over = {step.name for step in STEPS[:begun]}
    done = {at for at, work in enumerate(job.works) if work.step in over}
    others = hand_over(PLAN, away, gone)
    crews = {
        at: others.get(work.items[0], work.crew)
        for at, work in enumerate(job.works)
        if at not in done and work.crew in TEAMS
    }
    now = read_again(STUDY, PLAN, job.works, crews, done=done, helpers=Helpers(others, away))
    assert now == read_again(
        STUDY, PLAN, job.works, crews, done=done, helpers=Helpers(others, sorted(away))
    )
    assert misread(PLAN, now, away=away, over=done) == []
    for at, (work, was) in enumerate(zip(now, job.works, strict=True)):
        assert (work.step, work.items, work.after) == (was.step, was.items, was.after)
        if work.step != "measure":
            assert work.crew == crews.get(at, was.crew)
        elif at in done or not away:
            assert work.crew == was.crew
    if len(away) == 1 and not gone and "measure" not in over:
        shares = Counter(readings(now).values())
        assert shares.keys() == {*TEAMS} - away  # 18 items for 5 teams
        assert max(shares.values()) <= 4


def test_who_finished_for_another_before_does_not_read_it_later() -> None:
    """The team behind closed it in lesson 2; in lesson 3 the maker is back, and it is measured."""
    job = job_of(STUDY, PLAN)
    item = CODES[0]
    behind = ring_after(TEAMS, TEAM[item])[0]
    at = next(n for n, w in enumerate(job.works) if w.step == "close" and w.items == (item,))
    done = {n for n, work in enumerate(job.works) if work.step != "measure"}
    now = read_again(STUDY, PLAN, job.works, {at: behind}, done=done)
    assert misread(PLAN, now, over=done) == []
    assert readings(now) | {item: behind} == readings(job.works)
    assert readings(now)[item] not in (behind, TEAM[item])


@given(
    st.dictionaries(st.sampled_from(CODES), st.sets(st.sampled_from(TEAMS), max_size=5)),
    st.sets(st.sampled_from(TEAMS), max_size=2),
)
@settings(derandomize=True, max_examples=100, deadline=None)
def test_a_team_that_misses_a_measuring_reads_others_but_not_that(
    missed: dict[str, set[str]], away: set[str]
) -> None:
    works = job_of(STUDY, PLAN).works
    now = read_again(STUDY, PLAN, works, {}, helpers=Helpers({}, away, missed))
    was = readings(works)
    for item, reader in readings(now).items():
        there = {*TEAMS} - away - missed.get(item, set())
        assert reader in (there - {TEAM[item]} or there or {was[item], TEAM[item]})
        if was[item] in there:
            assert reader == was[item]


@given(
    st.sets(st.sampled_from(TEAMS), min_size=1, max_size=4),
    st.dictionaries(st.sampled_from(CODES), st.sets(st.sampled_from(TEAMS))),
)
@settings(derandomize=True, max_examples=100, deadline=None)
def test_who_misses_a_session_finishes_nothing_of_it(
    away: set[str], missed: dict[str, set[str]]
) -> None:
    """Without any that misses one, the others have equal shares, in turn."""
    there = [team for team in TEAMS if team not in away]
    for item, team in hand_over(PLAN, away, (), missed=missed).items():
        assert team in ({*there} - missed.get(item, set()) or there)
    shares = [*hand_over(PLAN, away, ()).values()]
    assert shares == [there[at % len(there)] for at in range(3 * len(away))]


@pytest.mark.parametrize(("absent", "lost"), [((0,), ()), ((2,), (0, 4)), ((0, 3), (7,))])
def test_no_team_has_more_to_do_than_hands_when_others_are_away(
    timed: Plan, absent: tuple[int, ...], lost: tuple[int, ...]
) -> None:
    away, gone = [TEAMS[at] for at in absent], [CODES[at] for at in lost]
    others = hand_over(timed, away, gone)
    found = schedule_rest(STUDY, timed, since=2, gone=gone, helpers=Helpers(others, away))
    assert found.placement.placed
    assert faults(found.job, found.room, found.placement) == []
    assert misread(timed, found.job.works, away=away, over=found.over) == []
    kept = [work for at, work in enumerate(found.job.works) if at not in found.over]
    assert not {*away} & {work.crew for work in kept}
