"""How much of what is used up a class gets out, against sums by hand and the binomial."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal
from fractions import Fraction
from math import comb
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.classroom.bench import class_plan, class_study
from trials.classroom.lessons import schedule, timetable_of
from trials.classroom.materials import (
    PLANNED_FAILING,
    Need,
    failing,
    get_out,
    handy,
    needs,
    pieces,
    spare_items,
    totals,
)
from trials.classroom.stock import stocks
from trials.design.values import Plan, PlanGroup, PlanRow
from trials.errors import StudyError
from trials.sheets.stock import stock_sentence
from trials.study import Study, check_study
from trials.study.check_stock import stock_amount
from trials.study.values import Material, TakenSpread

USED = {
    "coat": (Material(name="paste", amount=30, unit="mg"), Material(name="Water", amount=2)),
    "heat": (Material(name="tray paper", amount=1, per="group"),),
    "soak": (Material(name="water", amount=0.25, unit="L", per="team"),),
    "measure": (Material(name="towel", amount=3, per="lesson"),),
}


def using(materials: dict[str, tuple[Material, ...]], **more: Any) -> Study:
    study = class_study(**more)
    steps = tuple(
        step.model_copy(update={"materials": materials.get(step.name, ())}) for step in study.steps
    )
    return study.model_copy(update={"steps": steps})


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Give 18 items of six teams, in three firings of one item from each team."""
    drawn = class_plan(class_study())
    made: Counter[str] = Counter()
    rows = []
    for row in drawn.rows:
        team = row.groups["team"]
        made[team] += 1
        rows.append(fired(row, str(made[team])))
    firing = PlanGroup(
        name="firing",
        path="firing",
        within=None,
        step="heat",
        role=None,
        members=("1", "2", "3"),
        random=True,
    )
    return drawn.model_copy(update={"groups": (*drawn.groups, firing), "rows": tuple(rows)})


def fired(row: PlanRow, firing: str) -> PlanRow:
    return row.model_copy(update={"groups": {**row.groups, "firing": firing}})


def by_name(study: Study, plan: Plan) -> dict[str, Need]:
    return {need.material.name: need for need in needs(study, plan)}


def practised(study: Study, failed: int, made: int) -> Study:
    spread = TakenSpread(items=0.3, folder="try", made=made, failed=failed, source="practice run")
    first = study.responses[0].model_copy(update={"spread": spread})
    return study.model_copy(update={"responses": (first, *study.responses[1:])})


def test_amounts_for_teams_and_class(plan: Plan) -> None:
    """18 items of six teams, three firings: 30 mg each is 540 mg, 90 mg a team."""
    assert len(plan.rows) == 18
    found = by_name(using(USED), plan)
    paste = found["paste"]
    assert (paste.times, paste.team, paste.each * paste.times) == (18, (3, 3), Decimal(540))
    paper = found["tray paper"]
    assert (paper.times, paper.team) == (3, None)  # a firing is one item of each team
    water = found["water"]
    assert (water.times, water.team, water.spare) == (6, (1, 1), 0)
    assert found["towel"].team is None
    assert found["towel"].spare == 0


def exactly_enough(wanted: int, failing: Fraction, made: int) -> Fraction:
    """The chance that ``wanted`` of ``made`` work, by the binomial's own sum in fractions."""
    works = 1 - failing
    return sum(
        (comb(made, k) * works**k * failing ** (made - k) for k in range(wanted, made + 1)),
        Fraction(0),
    )


@pytest.mark.parametrize(("failed", "made"), [(1, 4), (1, 10), (2, 5), (7, 12)])
def test_spares_are_the_fewest_that_are_enough_19_times_in_20(
    plan: Plan, failed: int, made: int
) -> None:
    study = practised(using(USED), failed, made)
    spare = spare_items(study, plan)
    assert spare is not None
    share = Fraction(failed, made)
    assert exactly_enough(18, share, 18 + spare) >= Fraction(19, 20)
    assert exactly_enough(18, share, 18 + spare - 1) < Fraction(19, 20)
    found = by_name(study, plan)
    assert found["paste"].all_in == 18 + spare
    assert found["tray paper"].spare == -(-spare // 6)  # six go together


def test_without_a_practice_run_a_quarter_is_reckoned_to_fail(plan: Plan) -> None:
    study = using(USED)
    assert failing(study).share == PLANNED_FAILING == 0.25
    assert failing(study).made == 0
    spare = spare_items(study, plan)
    assert spare is not None
    assert exactly_enough(18, Fraction(1, 4), 18 + spare) >= Fraction(19, 20)


def test_no_spares_where_none_failed_and_no_end_where_all_did(plan: Plan) -> None:
    assert spare_items(practised(using(USED), 0, 4), plan) == 0
    study = practised(using(USED), 4, 4)
    assert spare_items(study, plan) is None
    paste = by_name(study, plan)["paste"]
    assert (paste.spare, paste.all_in) == (None, 18)
    assert by_name(study, plan)["tray paper"].spare is None


def test_one_thing_at_several_steps_is_added_up_where_units_allow_it(plan: Plan) -> None:
    study = using({**USED, "coat": (Material(name="Water", amount=5, unit="mL"),)})
    extra = spare_items(study, plan)
    assert extra is not None
    (total,) = totals(needs(study, plan))
    assert total.name == "Water"
    assert total.unit == "mL"
    assert total.amount == 5 * (18 + extra) + 6 * 250
    # pieces and litres can't be added
    assert totals(needs(using(USED), plan)) == ()


def test_things_are_counted_once_with_what_every_step_takes_of_them(plan: Plan) -> None:
    """18 items, two slides each and one more a team: 36 and 6; no millilitres, no tray papers."""
    slide, more = Material(name="slide", amount=2), Material(name="Slide", amount=1, per="team")
    study = using({**USED, "rinse": (slide,), "close": (more,)})
    extra = spare_items(study, plan)
    assert extra is not None
    found = pieces(needs(study, plan))
    assert found == (("Water", 36, 2 * (18 + extra)), ("slide", 42, 2 * (18 + extra) + 6))


def test_things_have_no_number_with_spares_where_all_failed(plan: Plan) -> None:
    assert pieces(needs(practised(using(USED), 4, 4), plan)) == (("Water", 36, None),)
    assert pieces(needs(class_study(), plan)) == ()


def test_lessons_are_those_of_the_timetable() -> None:
    study = using({"coat": (Material(name="towel", amount=3, per="lesson"),)})
    plan = class_plan(study)
    kept = timetable_of(study, schedule(study, plan, advise=False))
    assert kept is not None
    done = {work.lesson for work in kept.works if work.step == "coat"}
    (need,) = needs(study, plan.model_copy(update={"timetable": kept}))
    assert need.times == len(done)
    assert 1 <= need.times <= kept.lessons


def test_nobody_is_a_team(plan: Plan) -> None:
    study = using({"soak": USED["soak"], "coat": USED["coat"]})
    groups = tuple(group.model_copy(update={"role": None}) for group in plan.groups)
    found = needs(study, plan.model_copy(update={"groups": groups}))
    assert [need.team for need in found] == [None, None, None]
    assert found[-1].times == 1  # the class as a whole


def test_groups_within_a_team_are_counted_for_it(plan: Plan) -> None:
    study = using({"heat": USED["heat"]})
    rows = tuple(fired(row, row.groups["team"]) for row in plan.rows)
    (need,) = needs(study, plan.model_copy(update={"rows": rows}))
    assert (need.times, need.team) == (6, (1, 1))


def test_for_each_group_is_refused_where_nothing_goes_together() -> None:
    study = using({"heat": USED["heat"]})
    with pytest.raises(StudyError, match="no group belongs to the step 'heat'") as problem:
        check_study(study)
    assert problem.value.code == "study.material_per_group"
    assert "[groups.NAME]" in problem.value.do


def test_a_study_without_materials_needs_nothing(plan: Plan) -> None:
    assert needs(class_study(), plan) == ()


IN_ONE = {
    ("mL", "L"): 1000,
    ("g", "kg"): 1000,
    ("mg", "g"): 1000,
    ("mg", "kg"): 10**6,
    ("mm", "cm"): 10,
    ("mm", "m"): 1000,
    ("cm", "m"): 100,
}


@given(
    st.decimals(min_value="0.001", max_value=10**6, places=3),
    st.sampled_from(["mL", "g", "mg", "mm", "cm", "min", "", "drops", "1"]),
)
@settings(derandomize=True, max_examples=200, deadline=None)  # the first one reads a library
def test_never_too_little_and_never_much_too_much(amount: Decimal, unit: str) -> None:
    pieces = unit in ("", "drops", "1")
    out = get_out(amount, unit)
    assert amount <= out
    assert out < amount + 1 if pieces else out <= amount * Decimal("1.1")
    assert out == out.to_integral_value() or not pieces
    number, printed = handy(amount, unit)
    assert amount <= number * IN_ONE.get((unit, printed), 1)
    assert number >= 1 or printed == unit


def chance_that_enough_work(made: int, wanted: int) -> Fraction:
    """Return the chance, summed term by term: R. V. Hogg and others, the binomial distribution."""
    fails = Fraction(PLANNED_FAILING)
    return sum(
        (comb(made, k) * fails**k * (1 - fails) ** (made - k) for k in range(made - wanted + 1)),
        Fraction(0),
    )


@pytest.mark.parametrize("there", [0, 1, 17, 35, 36, 37, 50, 59, 60, 61, 90])
def test_stock_is_enough_for_as_many_items_as_the_binomial_says(plan: Plan, there: int) -> None:
    """18 items take 2 sheets each: 36; and with spares what 'needs' says."""
    study = using({"coat": (Material(name="sheet", amount=2),)})
    study = study.model_copy(update={"stock": {"Sheet": there}})
    (one,) = stocks(study, plan)
    assert (int(one.needed), int(one.there), one.items) == (36, there, 18)
    assert one.fits == there // 2
    assert one.enough == (there >= 36)
    assert one.surely is not None
    assert chance_that_enough_work(one.fits, one.surely) >= Fraction(95, 100) or one.surely == 0
    assert chance_that_enough_work(one.fits, one.surely + 1) < Fraction(95, 100)
    assert one.spare is not None
    spare = int(one.spare) // 2
    assert chance_that_enough_work(spare, 18) >= Fraction(95, 100)
    assert chance_that_enough_work(spare - 1, 18) < Fraction(95, 100)
    assert one.with_spares == (one.surely >= 18)


def test_stock_of_several_steps_and_units(plan: Plan) -> None:
    """Water: 2 mL an item in one step, a quarter of a litre a team (six) in another: 1.536 L."""
    used = {"coat": (Material(name="Water", amount=2, unit="mL"),), "soak": USED["soak"]}
    study = using(used).model_copy(update={"stock": {"water": "1.6 L"}})
    check_study(study)
    (one,) = stocks(study, plan)
    assert (one.unit, int(one.there), int(one.needed)) == ("mL", 1600, 1536)
    assert one.fits == 50  # (1600 - 1500) mL for 2 mL each
    assert stock_sentence(one, "cell").startswith("Water: you have 1600\xa0mL, enough for 18 cells")


def test_stock_of_what_no_item_takes_is_told_without_items(plan: Plan) -> None:
    study = using(USED).model_copy(update={"stock": {"towel": 2}})
    (one,) = stocks(study, plan)
    assert one.fits is None
    assert not one.enough
    assert "too little" in stock_sentence(one, "cell")


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ("1500 mL", ("1500", "mL")),
        ("1 500 mL", ("1500", "mL")),
        ("1,5 L", ("1.5", "L")),
        ("0.500 L", ("0.500", "L")),
        ("1,500 mL", None),
        ("1.500 mL", None),
        ("-5 mL", ("-5", "mL")),
    ],
)
def test_an_amount_is_read_as_readings_are(written: str, told: tuple[str, str] | None) -> None:
    assert stock_amount(written) == (None if told is None else (Decimal(told[0]), told[1]))


def test_without_a_stock_nothing_is_told(plan: Plan) -> None:
    assert stocks(using(USED), plan) == ()


def test_what_only_one_version_takes(plan: Plan) -> None:
    """Half of 18 items take ink; 9 of those made come out well with 95 % by spares of their own."""
    factor = class_study().factors[0]
    level = factor.levels[0]
    taking = [row for row in plan.rows if row.factors[factor.name] == level]
    ink = Material(name="ink", amount=2, unit="mL", level=level)
    step = class_study().steps[0].name
    study = using({step: (ink,)})
    check_study(study)
    (need,) = needs(study, plan)
    assert need.times == len(taking) < len(plan.rows)
    assert need.spare is not None
    made = need.times + need.spare
    assert chance_that_enough_work(made, need.times) >= Fraction(95, 100)
    assert chance_that_enough_work(made - 1, need.times) < Fraction(95, 100)
    (one,) = stocks(study.model_copy(update={"stock": {"ink": f"{2 * len(taking)} mL"}}), plan)
    assert (one.fits, one.enough) == (len(plan.rows), True)
    for there in (4, 11, 12, 13, 17):  # as many items of that version
        (one,) = stocks(study.model_copy(update={"stock": {"ink": f"{2 * there} mL"}}), plan)
        assert one.surely is not None
        well = one.surely * len(taking) // len(plan.rows)
        assert chance_that_enough_work(there, well) >= Fraction(95, 100) or well == 0
        assert chance_that_enough_work(there, well + 1) < Fraction(95, 100)
        assert one.with_spares == (one.surely >= len(plan.rows))
    nobody = using({step: (ink.model_copy(update={"level": "no such level"}),)})
    with pytest.raises(StudyError, match="level that isn't there"):
        check_study(nobody)
