"""The fair-test check: each unfair plan is found, said plainly, and given a way out."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.design.unchecked import draw
from tests.sizes import examples
from trials.design.audit import audit
from trials.design.draw import draw as draw_checked
from trials.design.planned import stops
from trials.design.values import AuditFinding, Plan
from trials.study import Limits, Response, Spread, Study, StudyFactor, StudyGroup, read_study
from trials.study.values import FailedRule
from trials.words.forbidden import find_forbidden

DEMO = Path(__file__).parents[2] / "study_demo"
GOOD = Response(
    name="y",
    unit="cm",
    primary=True,
    worthwhile=1.0,
    expected=3.0,
    spread=Spread(items=0.5),
    failed=FailedRule(below=0.1),
)


def study(**change: Any) -> Study:
    """A fair study of feed on plants in four teams, with something changed."""
    base: dict[str, Any] = {
        "title": "t",
        "question": "q",
        "item_name": "plant",
        "factors": (StudyFactor(name="feed", levels=("a", "b"), shared=False),),
        "groups": (StudyGroup(name="team", count=4, role="maker"),),
        "responses": (GOOD,),
        "limits": Limits(items=24),
    }
    return Study(**(base | change))


def found(made: Study, plan: Plan | None = None) -> dict[str, AuditFinding]:
    return {f.code: f for f in audit(made, plan or draw(made, seed=4))}


def relabelled(plan: Plan, **change: Any) -> Plan:
    """The plan with its rows changed by a rule: column of factors, run or measure."""
    rows = []
    for place, row in enumerate(sorted(plan.rows, key=lambda r: r.run)):
        new = {key: rule(place, row) for key, rule in change.items()}
        rows.append(row.model_copy(update=new))
    return plan.model_copy(update={"rows": tuple(rows)})


def test_a_fair_study_is_not_objected_to() -> None:
    assert not [f for f in found(study()).values() if f.severity != "note"]


def test_a_version_for_each_team_is_tied() -> None:
    fair = draw(study(), seed=4)
    teams = list(fair.groups[0].members)
    bad = relabelled(fair, factors=lambda _, r: {"feed": "ab"[teams.index(r.groups["team"]) % 2]})
    tied = found(study(), bad)["tied"]
    assert tied.severity == "stop"
    assert (tied.facts["factor"], tied.facts["group"]) == ("feed", "team")
    assert "team" in tied.message


def test_one_tray_for_each_version_is_no_replication() -> None:
    made = study(
        factors=(StudyFactor(name="feed", levels=("a", "b"), applied_to="tray"),),
        groups=(StudyGroup(name="tray", count=2),),
    )
    plan = draw_checked(made, seed=1)
    assert found(made, plan)["no_replication"].severity == "stop"
    assert [f.code for f in stops(plan)] == ["no_replication"]
    assert "no_replication" not in found(
        made.model_copy(update={"groups": (StudyGroup(name="tray", count=8),)})
    )


@pytest.mark.parametrize(("shared", "code"), [(True, "shared_pot"), (None, "shared_unknown")])
def test_pots_that_several_items_share_are_asked_about(shared: bool | None, code: str) -> None:
    made = study(factors=(StudyFactor(name="feed", levels=("a", "b"), shared=shared),))
    assert code in found(made)
    assert not {"shared_pot", "shared_unknown"} & set(found(study()))


@pytest.mark.parametrize("order", ["run", "measure"])
def test_versions_in_time_order(order: str) -> None:
    fair = draw(study(groups=()), seed=4)
    first = [r.item for r in fair.rows if r.factors["feed"] == "a"]
    later = [r.item for r in fair.rows if r.factors["feed"] == "b"]
    place = {item: number + 1 for number, item in enumerate([*first, *later])}
    bad = relabelled(fair, **{order: lambda _, r: place[r.item]})
    assert "time_order" in found(study(groups=()), bad)
    assert "time_order" not in found(study(groups=()), fair)


def test_unequal_numbers() -> None:
    made = study(groups=(), limits=Limits(items=11))
    unequal = found(made)["unequal"]
    assert (unequal.severity, unequal.facts["fewest"], unequal.facts["most"]) == ("note", 5, 6)
    fair = draw(study(groups=()), seed=4)
    bad = relabelled(fair, factors=lambda place, _: {"feed": "a" if place < 20 else "b"})
    assert found(study(groups=()), bad)["unequal"].severity == "warn"


def test_so_few_items_that_luck_alone_could_do_it() -> None:
    few = found(study(groups=(), limits=Limits(items=6)))["few_layouts"]
    assert few.facts["smallest_p"] == pytest.approx(0.10)
    assert few.facts["layouts"] == 10


def test_hoping_for_less_than_twice_what_matters() -> None:
    made = study(responses=(GOOD.model_copy(update={"expected": 1.5}),))
    assert "expected_small" in found(made)
    ratio = {"compare": "ratio", "worthwhile": 1.3, "expected": 1.5}
    made = study(responses=(GOOD.model_copy(update=ratio),))
    assert "expected_small" in found(made)
    made = study(responses=(GOOD.model_copy(update=ratio | {"expected": 1.69}),))
    assert "expected_small" not in found(made)


def test_a_verdict_that_would_hardly_ever_come() -> None:
    wide = GOOD.model_copy(update={"spread": Spread(items=4.0)})
    assert "no_verdict" in found(study(responses=(wide,)))
    assert "no_verdict" not in found(study())


def test_what_was_not_said() -> None:
    bare = Response(name="y")
    codes = found(study(responses=(bare, Response(name="z"))))
    assert {"no_primary", "no_failed_rule", "no_worthwhile", "no_spread"} <= set(codes)
    both = tuple(Response(name=name, primary=True) for name in "yz")
    assert "several_primary" in found(study(responses=both))


def test_a_team_that_never_meets_a_version() -> None:
    fair = draw(study(), seed=4)
    lazy = fair.groups[0].members[0]
    bad = relabelled(
        fair,
        factors=lambda _, r: {"feed": "a"} if r.groups["team"] == lazy else dict(r.factors),
    )
    assert "unseen" in found(study(), bad)


def test_drawing_until_it_pleases_is_told() -> None:
    plan = draw(study(), seed=5, seeds_tried=(1, 2, 3))
    assert found(study(), plan)["several_draws"].facts["draws"] == 4


def test_a_unit_that_counts_is_pointed_out(cells: Plan) -> None:
    counts = found(read_study(DEMO / "cells" / "study.toml"), cells)["counts"]
    assert (counts.facts["members"], counts.facts["items"]) == (8, 48)


def test_a_version_that_one_team_makes_more_often() -> None:
    fair = draw(study(), seed=4)
    busy = fair.groups[0].members[0]
    made = [r.item for r in fair.rows if r.groups["team"] == busy]
    bad = relabelled(
        fair,
        factors=lambda _, r: (
            {"feed": "b" if r.item == made[0] else "a"} if r.item in made else dict(r.factors)
        ),
    )
    uneven = found(study(), bad)["uneven"]
    assert (uneven.facts["member"], uneven.facts["fewest"], uneven.facts["most"]) == (busy, 1, 5)


def test_a_dependence_that_nothing_is_left_to_judge_by() -> None:
    """Two factors, each recipe once: the two-factor effect has no yardstick."""
    factors = tuple(
        StudyFactor(name=name, levels=("x", "y", "z"), shared=False) for name in ("feed", "light")
    )
    made = study(factors=factors, groups=(), limits=Limits(items=9))
    untested = found(made)["untested"]
    assert untested.facts["terms"] == [["feed", "light"]]
    assert "untested" not in found(made.model_copy(update={"limits": Limits(items=18)}))


def on_trays(**spread: Any) -> Study:
    return study(
        factors=(StudyFactor(name="feed", levels=("a", "b"), applied_to="tray"),),
        groups=(StudyGroup(name="tray", count=8),),
        responses=(GOOD.model_copy(update={"spread": Spread(items=0.5, **spread)}),),
    )


def test_a_unit_whose_spread_nobody_guessed() -> None:
    assert found(on_trays())["no_group_spread"].facts["groups"] == ["tray"]
    assert "no_group_spread" not in found(on_trays(groups={"tray": 0.2}))


@pytest.mark.long
@pytest.mark.parametrize("items", [8, 12, 24])
def test_fair_draws_are_seldom_called_tidy(items: int) -> None:
    """An order by chance looks like one version after the other at most once in twenty draws."""
    made = study(groups=(), limits=Limits(items=items))
    draws = examples(20, 60)
    alarms = sum("time_order" in found(made, draw(made, seed=seed)) for seed in range(1, draws + 1))
    assert alarms <= 2 * draws * 0.05  # twice for two orders: of making and of measuring


def bad_plans() -> list[tuple[Study, Plan]]:
    """Hand-made plans and studies that between them have everything the check looks for."""
    fair = draw(study(), seed=4)
    teams = list(fair.groups[0].members)
    sorted_items = sorted(fair.rows, key=lambda r: r.factors["feed"])
    place = {row.item: number for number, row in enumerate(sorted_items, start=1)}
    lazy = [r.item for r in fair.rows if r.groups["team"] == teams[0]]
    changes: list[dict[str, Any]] = [
        {"factors": lambda _, r: {"feed": "ab"[teams.index(r.groups["team"]) % 2]}},
        {"run": lambda _, r: place[r.item]},
        {"measure": lambda _, r: place[r.item]},
        {"factors": lambda _, r: {"feed": "a"} if r.item in lazy else dict(r.factors)},
        {
            "factors": lambda _, r: (
                {"feed": "b" if r.item == lazy[0] else "a"} if r.item in lazy else dict(r.factors)
            )
        },
    ]
    plans = [(study(), relabelled(fair, **change)) for change in changes]
    plans.append((study(), draw(study(), seed=5, seeds_tried=(1, 2))))
    two = tuple(StudyFactor(name=name, levels=("x", "y", "z")) for name in ("feed", "light"))
    both = tuple(Response(name=name, primary=True) for name in "yz")
    wide = GOOD.model_copy(update={"spread": Spread(items=4.0), "expected": 1.5})
    one_tray = StudyGroup(name="tray", count=2)
    studies = [
        study(factors=two, groups=(), limits=Limits(items=9)),
        study(responses=(Response(name="y"), Response(name="z"))),
        study(responses=both),
        study(responses=(wide,)),
        study(groups=(), limits=Limits(items=7)),
        study(groups=(), limits=Limits(items=6)),
        study(factors=(StudyFactor(name="feed", levels=("a", "b"), shared=True),)),
        on_trays(),
        on_trays().model_copy(update={"groups": (one_tray,)}),
        *(read_study(DEMO / name / "study.toml") for name in ("greenhouse", "tea")),
    ]
    return plans + [(made, draw(made, seed=4)) for made in studies]


def test_every_message_is_plain_and_every_remedy_there(cells: Plan) -> None:
    """Sentences a student of 15 reads: no forbidden word, no code, a way out for all but notes."""
    class_of_48 = (read_study(DEMO / "cells" / "study.toml"), cells)
    seen = [(f.code, f) for made, plan in [*bad_plans(), class_of_48] for f in audit(made, plan)]
    for code, finding in seen:
        assert finding.message[0].isupper(), code
        assert finding.message.endswith((".", "?")), finding.message
        assert "  " not in finding.message + finding.remedy, code
        assert not find_forbidden(finding.message), code
        assert not find_forbidden(finding.remedy), code
        assert "{" not in finding.message + finding.remedy, code
        assert finding.severity == "note" or finding.remedy, code
        assert max(len(s.split()) for s in finding.message.split(". ")) < 40, finding.message
