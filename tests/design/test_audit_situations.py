"""The table of the fair-test check, and each new situation found where it is and only there."""

from __future__ import annotations

from typing import Any

import pytest

from tests.design.unchecked import draw
from trials.design.audit import SITUATIONS, audit
from trials.design.draw import preview
from trials.design.values import AuditFinding, Plan
from trials.study import (
    FailedRule,
    Limits,
    Response,
    Spread,
    Step,
    Study,
    StudyFactor,
    StudyGroup,
)
from trials.words.fairness import FAIRNESS_CODES
from trials.words.fairness_areas import AREA_OF, AREAS

GOOD = Response(
    name="y",
    unit="cm",
    primary=True,
    worthwhile=1.0,
    expected=3.0,
    spread=Spread(items=0.5),
    failed=FailedRule(below=0.1),
)
FEED = StudyFactor(name="feed", levels=("a", "b"), shared=False)
LIGHT = StudyFactor(name="light", levels=("x", "y"), shared=False)
SOIL = StudyFactor(name="soil", levels=("p", "q"), shared=False)


def study(**change: Any) -> Study:
    base: dict[str, Any] = {
        "title": "t",
        "question": "Does it grow?",
        "prediction": "Yes.",
        "same": ("one sack of soil",),
        "item_name": "plant",
        "factors": (FEED,),
        "responses": (GOOD,),
        "limits": Limits(items=16),
    }
    return Study(**(base | change))


def found(made: Study, plan: Plan | None = None) -> dict[str, AuditFinding]:
    return {f.code: f for f in audit(made, plan or preview(made))}


def by_hand(made: Study, **columns: list[str]) -> Plan:
    """The plan of a study with its rows, in the order of making, given other versions."""
    plan = preview(made)
    rows = [
        row.model_copy(update={"factors": {name: col[place] for name, col in columns.items()}})
        for place, row in enumerate(sorted(plan.rows, key=lambda r: r.run))
    ]
    return plan.model_copy(update={"rows": tuple(rows), "skeleton": (), "verdict_chances": ()})


def test_a_study_without_a_flaw_has_no_finding() -> None:
    assert not found(study())


# ---- the table -----------------------------------------------------------------------------------


def test_the_table_and_the_words_know_the_same_codes() -> None:
    codes = [situation.code for situation in SITUATIONS]
    assert len(codes) == len(set(codes)) >= 28
    assert set(codes) == set(FAIRNESS_CODES)


# Dasgupta, Anderson and Pelaez (2014), CBE-Life Sciences Education 13, 265-284, Table 2: the areas.
def test_every_finding_has_one_of_the_five_published_areas() -> None:
    assert list(AREAS.values()) == [
        "the variable property of an experimental subject",
        "manipulation of variables",
        "measurement of outcome",
        "accounting for variability",
        "scope of inference",
    ]
    assert set(AREA_OF) == set(FAIRNESS_CODES)
    used = [AREA_OF[code] for code in FAIRNESS_CODES]
    assert all(used.count(area) >= 2 for area in AREAS)
    assert all(situation.area in AREAS.values() for situation in SITUATIONS)


def test_a_finding_carries_its_area() -> None:
    assert found(study(prediction=""))["no_prediction"].area == "manipulation of variables"


# ---- effects that can't be told apart ------------------------------------------------------------


def test_two_factors_that_always_change_together() -> None:
    made = study(factors=(FEED, LIGHT))
    told = found(made, by_hand(made, feed=list("ab" * 8), light=list("xy" * 8)))
    assert told["changed_together"].severity == "stop"
    assert told["changed_together"].facts["factors"] == ["feed", "light"]


def test_two_factors_that_mostly_change_together() -> None:
    made = study(factors=(FEED, LIGHT))
    mostly = by_hand(made, feed=list("ab" * 8), light=[*"xy" * 7, "y", "x"])
    assert found(made, mostly)["changed_together"].severity == "warn"
    seldom = by_hand(made, feed=list("ab" * 8), light=[*"xy" * 5, *"yx" * 3])
    assert "changed_together" not in found(made, seldom)


# The half fraction I = ABC: each main effect is aliased with the interaction of the other two
# (G. E. P. Box and J. S. Hunter, 1961, "The 2^(k-p) fractional factorial designs", Technometrics).
def test_a_half_fraction_names_its_aliases() -> None:
    made = study(factors=(FEED, LIGHT, SOIL))
    columns: dict[str, list[str]] = {"feed": [], "light": [], "soil": []}
    for place in range(16):
        feed, light = place % 2, place // 2 % 2
        columns["feed"].append("ab"[feed])
        columns["light"].append("xy"[light])
        columns["soil"].append("pq"[(feed + light + 1) % 2])
    told = [f for f in audit(made, by_hand(made, **columns)) if f.code == "alias.factors"]
    assert [f.facts["terms"] for f in told] == [
        [["feed"], ["light", "soil"]],
        [["light"], ["feed", "soil"]],
        [["soil"], ["feed", "light"]],
    ]


def test_a_combination_that_is_never_made_hides_the_dependence_only() -> None:
    made = study(factors=(FEED, LIGHT), limits=Limits(items=15))
    told = found(made, by_hand(made, feed=list("aab" * 5), light=list("xyx" * 5)))
    assert told["alias.factors"].facts["terms"] == [["feed", "light"]]


def in_blocks(feed: str, light: str) -> tuple[Study, Plan]:
    """16 plants in two rooms on two days, with versions given for each room and day."""
    groups = (StudyGroup(name="room", count=2), StudyGroup(name="day", count=2))
    made = study(factors=(FEED, LIGHT), groups=groups)
    plan = preview(made)
    rows, seen = [], [0, 0, 0, 0]
    for row in plan.rows:
        cell = 2 * plan.groups[0].members.index(row.groups["room"])
        cell += plan.groups[1].members.index(row.groups["day"])
        place = 4 * cell + seen[cell]
        seen[cell] += 1
        versions = {"feed": feed[place], "light": light[place]}
        rows.append(row.model_copy(update={"factors": versions}))
    return made, plan.model_copy(update={"rows": tuple(rows)})


def test_a_difference_that_is_wholly_one_between_rooms_and_days_together() -> None:
    """feed = room x day, as in a confounded factorial: no single group shows it."""
    made, plan = in_blocks("aaaabbbbbbbbaaaa", "xyxy" * 4)
    alias = found(made, plan)["alias.group"]
    assert alias.severity == "stop"
    assert (alias.facts["term"], alias.facts["groups"]) == (["feed"], ["room", "day"])


def test_a_dependence_that_is_confounded_with_rooms() -> None:
    """The textbook 2 x 2 in two blocks: feed x light is the difference of the blocks.

    F. Yates (1937), The Design and Analysis of Factorial Experiments, section 4.
    """
    made, plan = in_blocks("abababab" * 2, "xyxyxyxy" + "yxyxyxyx")
    alias = found(made, plan)["alias.group"]
    assert alias.severity == "warn"
    assert (alias.facts["term"], alias.facts["groups"]) == (["feed", "light"], ["room"])


def test_what_half_the_plan_tells_of_is_told_as_such() -> None:
    """Averages of the four cells 1, 1/2, -1, -1/2: 4 (1 + 1/4 + 1 + 1/4) = 10 of 16 squares."""
    made, plan = in_blocks("aaaaaaab" + "bbbbbbba", "xyxy" * 4)
    part = found(made, plan)["alias.part"]
    assert (part.facts["term"], part.facts["groups"]) == (["feed"], ["room"])
    assert part.facts["told"] == pytest.approx(1 - 10 / 16)


def test_a_version_that_comes_from_one_maker_only() -> None:
    made = study(groups=(StudyGroup(name="team", count=4, role="maker"),))
    plan = preview(made)
    first = plan.groups[0].members[0]
    rows, odd = [], 0
    for row in plan.rows:
        mine = row.groups["team"] == first
        odd += mine
        versions = {"feed": "b" if mine and odd % 2 else "a"}
        rows.append(row.model_copy(update={"factors": versions}))
    one = found(made, plan.model_copy(update={"rows": tuple(rows)}))["one_for_level"]
    assert (one.facts["levels"], one.facts["group"]) == (["b"], "team")


def test_a_version_that_has_one_tray_only() -> None:
    made = study(
        factors=(FEED.model_copy(update={"applied_to": "tray", "shared": None}),),
        groups=(StudyGroup(name="tray", count=8),),
    )
    plan = preview(made)
    tray = plan.groups[0].members[0]
    rows = tuple(
        r.model_copy(update={"factors": {"feed": "b" if r.groups["tray"] == tray else "a"}})
        for r in plan.rows
    )
    assert found(made, plan.model_copy(update={"rows": rows}))["one_for_level"].facts["unit"]
    assert "one_for_level" not in found(made)


# ---- repeats -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("trays", "fatal"), [(4, True), (8, False)])
def test_one_tray_lost_may_end_a_question(trays: int, fatal: bool) -> None:
    made = study(
        factors=(FEED.model_copy(update={"applied_to": "tray", "shared": None}),),
        groups=(StudyGroup(name="tray", count=trays),),
    )
    assert ("loss_fatal" in found(made)) is fatal


def test_a_group_of_one() -> None:
    made = study(groups=(StudyGroup(name="room", count=1),))
    assert found(made)["group_of_one"].facts["group"] == "room"


# ---- order ---------------------------------------------------------------------------------------


def ordered(made: Study, order: list[int]) -> Plan:
    """The plan with the item made first measured at order[0], and so on."""
    plan = preview(made)
    rows = sorted(plan.rows, key=lambda r: r.run)
    new = [r.model_copy(update={"measure": order[place]}) for place, r in enumerate(rows)]
    return plan.model_copy(update={"rows": tuple(new)})


def test_measuring_in_the_order_of_making() -> None:
    made = study()
    forward, backward = list(range(1, 17)), list(range(16, 0, -1))
    assert found(made, ordered(made, forward))["same_order"].facts["backwards"] is False
    assert found(made, ordered(made, backward))["same_order"].facts["backwards"] is True


def test_like_after_like_when_measuring() -> None:
    made = study(limits=Limits(items=32))
    plan = preview(made)
    versions = [*"aaaaaaaabbbbbbbb" * 2]
    rows = sorted(plan.rows, key=lambda r: r.measure)
    new = [
        r.model_copy(update={"factors": {"feed": versions[place]}}) for place, r in enumerate(rows)
    ]
    told = found(made, plan.model_copy(update={"rows": tuple(new)}))
    assert "carry_over" in told
    assert "time_order" not in told


@pytest.mark.parametrize("items", [8, 24])
def test_fair_orders_are_hardly_ever_called_unfair(items: int) -> None:
    made = study(limits=Limits(items=items))
    codes = [set(found(made, draw(made, seed=seed))) for seed in range(1, 41)]
    assert sum(bool(one & {"carry_over", "same_order"}) for one in codes) <= 1


# ---- versions and measuring ----------------------------------------------------------------------


def test_a_version_that_looks_like_the_control() -> None:
    feed = StudyFactor(name="feed", levels=("none", "half"), shared=False)
    assert found(study(factors=(feed,)))["no_control"].facts["level"] == "none"
    named = feed.model_copy(update={"control": "none"})
    assert "no_control" not in found(study(factors=(named,)))


def test_a_question_about_the_usual_way_without_one() -> None:
    asked = "Is feed better than the usual way?"
    assert "usual_missing" in found(study(question=asked))
    usual = FEED.model_copy(update={"control": "a"})
    assert "usual_missing" not in found(study(question=asked, factors=(usual,)))


@pytest.mark.parametrize(
    ("levels", "close"),
    [(("200", "210"), True), (("200", "222"), False), (("0", "1"), False), (("-5", "5"), False)],
)
def test_levels_less_than_a_tenth_apart(levels: tuple[str, ...], close: bool) -> None:
    heat = StudyFactor(name="heat", levels=levels, kind="quantity", unit="°C", shared=False)
    assert ("levels_close" in found(study(factors=(heat,)))) is close


def test_one_of_several_readings() -> None:
    many = GOOD.model_copy(update={"readings": 3})
    assert found(study(responses=(many,)))["best_of_many"].facts["readings"] == 3
    average = many.model_copy(update={"reducer": "mean"})
    assert "best_of_many" not in found(study(responses=(average,)))
    step = Step(name="read", stage="measure", text="Write down the longest of three.")
    told = found(study(responses=(average,), steps=(step,)))
    assert told["best_of_many"].facts["told"]


def test_readings_that_are_rougher_than_the_items_differ() -> None:
    spread = Spread(items=0.5, readings=1.5)
    rough = GOOD.model_copy(update={"reducer": "mean", "readings": 2, "spread": spread})
    told = found(study(responses=(rough,)))["rough_readings"]
    assert told.facts["needed"] == 9  # 1.5 / sqrt(9) = 0.5
    fine = rough.model_copy(update={"readings": 9})
    assert "rough_readings" not in found(study(responses=(fine,)))


def test_a_margin_out_of_reach_is_told_apart_from_a_plan_too_small() -> None:
    wide = GOOD.model_copy(update={"spread": Spread(items=40.0)})
    told = found(study(responses=(wide,)))
    assert "margin_unreachable" in told
    assert "no_verdict" not in told
    small = GOOD.model_copy(update={"spread": Spread(items=2.0)})
    told = found(study(responses=(small,)))
    assert "no_verdict" in told
    assert "margin_unreachable" not in told


def test_sizes_that_add_up_to_fewer_than_could_be_made() -> None:
    bench = StudyGroup(name="bench", count=2, sizes=(6, 6))
    made = study(groups=(bench,), limits=Limits(items=16))
    one = found(made)["sizes_short"]
    assert (one.facts["items"], one.facts["wanted"]) == (12, 16)
    assert "add up to 12 plants, though you could make 16" in one.message
    assert "sizes_short" not in found(study(groups=(bench,), limits=Limits(items=12)))


def test_what_was_not_written_down() -> None:
    told = found(study(prediction=" ", same=()))
    assert {"no_prediction", "nothing_same"} <= set(told)
