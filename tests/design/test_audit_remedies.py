"""Remedies that were tried: each change a finding carries, applied to the study, settles it."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from tests.design.test_audit_situations import FEED, GOOD, LIGHT, SOIL, study
from tests.design.unchecked import draw
from tests.sizes import LONG
from trials.design.audit import Smallest, audit, run
from trials.design.audit.table import SITUATIONS
from trials.design.audit.view import View
from trials.design.draw import preview
from trials.design.values import AuditFinding, Plan
from trials.service.plan_text import fairness_lines
from trials.study import (
    Limits,
    Response,
    Spread,
    Study,
    StudyFactor,
    StudyGroup,
    check_study,
    lines_of,
    parse_study,
    with_changes,
    write_study,
)

DEMO = Path(__file__).parents[2] / "study_demo"
ON_TRAY = FEED.model_copy(update={"applied_to": "tray", "shared": None})


def changed(made: Study, finding: AuditFinding) -> Study:
    return with_changes(made, [(change.keys, change.value) for change in finding.change])


def settled(finding: AuditFinding, after: Plan) -> bool:
    """Whether the finding is gone from the plan of the study as changed, drawn in full."""
    return _about(finding) not in {_about(other) for other in after.audit}


def _about(finding: AuditFinding) -> tuple[Any, ...]:
    facts = finding.facts
    told = (facts.get("factor"), facts.get("term"), facts.get("response"), facts.get("group"))
    return (finding.code, *(str(thing) for thing in told))


def two_on_trays(count: int) -> Study:
    light = LIGHT.model_copy(update={"applied_to": "tray", "shared": None})
    return study(factors=(ON_TRAY, light), groups=(StudyGroup(name="tray", count=count),))


def blocks_of_trays(count: int) -> Study:
    three = StudyFactor(name="light", levels=("x", "y", "z"), shared=False)
    groups = (
        StudyGroup(name="block", count=2),
        StudyGroup(name="tray", count=count, within="block"),
    )
    return study(factors=(ON_TRAY, three), groups=groups, limits=Limits(items=24))


def tea_in_teams(teams: int) -> Study:
    tea = (DEMO / "tea" / "study.toml").read_text(encoding="utf-8")
    team = f'[groups.team]\nlabel = "team"\ncount = {teams}\nrole = "maker"\n\n[groups.pot]'
    return parse_study(tea.replace("[groups.pot]", team))


def three_on_trays() -> Study:
    """Three factors on eight trays in two blocks: more than eight trays can decide."""
    factors = tuple(
        f.model_copy(update={"applied_to": "tray", "shared": None}) for f in (FEED, LIGHT, SOIL)
    )
    block = StudyGroup(name="block", count=2)
    tray = StudyGroup(name="tray", count=4, within="block", capacity=2)
    return study(factors=factors, groups=(block, tray))


def weak(spread: float, **change: Any) -> Study:
    return study(responses=(GOOD.model_copy(update={"spread": Spread(items=spread)}),), **change)


STUDIES: dict[str, Study] = {
    "2 items": study(limits=Limits(items=2)),
    "3 items": study(limits=Limits(items=3)),
    "2 x 2 once": study(factors=(FEED, LIGHT), limits=Limits(items=4)),
    "2 x 2 and one": study(factors=(FEED, LIGHT), limits=Limits(items=5)),
    "copies": study(factors=(FEED, LIGHT), limits=Limits(copies=1)),
    "teams of two": study(
        groups=(StudyGroup(name="team", count=2, role="maker"),), limits=Limits(items=4)
    ),
    "two trays": study(factors=(ON_TRAY,), groups=(StudyGroup(name="tray", count=2),)),
    "four trays": study(factors=(ON_TRAY,), groups=(StudyGroup(name="tray", count=4),)),
    "full trays": study(factors=(ON_TRAY,), groups=(StudyGroup(name="tray", count=2, capacity=8),)),
    "two factors on four trays": two_on_trays(4),
    "two factors on six trays": two_on_trays(6),
    "trays in blocks": blocks_of_trays(2),
    "more trays in blocks": blocks_of_trays(3),
    "three factors on eight trays": three_on_trays(),
    "tea in four teams": tea_in_teams(4),
    "wide": weak(1.5),
    "wide on trays": weak(
        1.0, factors=(ON_TRAY,), groups=(StudyGroup(name="tray", count=6, capacity=3),)
    ),
    "none": study(factors=(StudyFactor(name="feed", levels=("none", "half"), shared=False),)),
    "best of three": study(responses=(GOOD.model_copy(update={"readings": 3}),)),
    "rough": study(
        responses=(
            GOOD.model_copy(
                update={"reducer": "mean", "spread": Spread(items=0.5, readings=1.2)},
            ),
        )
    ),
    "not said to decide": study(responses=(Response(name="y"),)),
}

# drawn in ``.ci/long`` alone: what they carry the others carry too
LARGE = {"two factors on six trays", "more trays in blocks", "wide on trays"}


@dataclass(frozen=True)
class Carried:
    """A finding with a change, the study as changed, and the plan of that."""

    name: str
    finding: AuditFinding
    study: Study
    plan: Plan


@pytest.fixture(scope="module")
def changes() -> list[Carried]:
    plans: dict[str, Plan] = {}
    out = []
    for name, made in STUDIES.items():
        if name in LARGE and not LONG:
            continue
        for finding in preview(made).audit:
            if not finding.change:
                continue
            after = changed(made, finding)
            check_study(after)
            if after.digest() not in plans:
                plans[after.digest()] = preview(after)
            out.append(Carried(name, finding, after, plans[after.digest()]))
    return out


@pytest.mark.long
def test_each_change_settles_its_finding(changes: list[Carried]) -> None:
    bad = [(c.name, c.finding.code) for c in changes if not settled(c.finding, c.plan)]
    assert not bad
    codes = {c.finding.code for c in changes}
    assert codes >= {
        "alias.part",
        "best_of_many",
        "few_layouts",
        "loss_fatal",
        "no_control",
        "no_primary",
        "no_replication",
        "no_verdict",
        "rough_readings",
        "unequal",
        "untested",
    }


@pytest.mark.long
def test_the_number_in_words_is_the_number_of_the_change(changes: list[Carried]) -> None:
    """What the remedy tells to make is what the changed study's plan has, and more than now."""
    for one in changes:
        finding, needed = one.finding, one.finding.facts.get("needed")
        if finding.code not in ("no_replication", "few_layouts", "loss_fatal", "no_verdict"):
            continue
        assert needed is not None
        sizes = {len(one.plan.rows), *(len(group.members) for group in one.plan.groups)}
        if "smallest" in finding.facts:  # the lines are those of a larger size that settles more
            assert needed < max(sizes), (one.name, finding.code)
        else:
            assert needed in sizes, (one.name, finding.code)
        assert str(needed) in finding.remedy, (one.name, finding.remedy)
        assert needed > finding.facts.get("members", 0)


@pytest.mark.long
def test_a_change_is_a_line_that_can_be_pasted(changes: list[Carried]) -> None:
    """Written into the file under its heading, the lines make the very study that was tried."""
    for one in changes:
        assert parse_study(write_study(one.study)) == one.study
        for heading, line in lines_of((c.keys, c.value) for c in one.finding.change):
            read = tomllib.loads(f"{heading}\n{line}\n")
            assert read, (heading, line)


def test_no_change_is_told_that_was_not_tried() -> None:
    """Without a way to draw again, numbers of items are advised in words only."""
    made = STUDIES["2 items"]
    (finding,) = [f for f in audit(made, preview(made)) if f.code == "no_replication"]
    assert finding.change == ()
    assert not any(sign.isdigit() for sign in finding.remedy)


def test_a_size_that_was_not_drawn_is_not_taken_for_too_small(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The size that helps is drawn; the one before it is one plan too many, the second time too."""
    rough = GOOD.model_copy(update={"spread": Spread(items=2.0)})
    three = StudyFactor(name="feed", levels=("a", "b", "c"), shared=False)
    light = LIGHT.model_copy(update={"applied_to": "tray", "shared": None})
    trays = (StudyGroup(name="tray", count=4),)
    made = study(factors=(three, light), groups=trays, responses=(rough,))
    view = View(made, preview(made))
    situation = next(one for one in SITUATIONS if one.code == "few_layouts")
    found = view.found(situation)[0]
    assert found.mends is not None
    sizes, enough = tuple(found.mends()), found.guess or 0
    monkeypatch.setattr(run, "MOST_PLAIN", 30)

    drawn: dict[str, Plan] = {}

    def draws_again(other: Study, *, plain: bool) -> tuple[Plan, Callable[[], Smallest]]:
        del plain
        key = other.digest()
        if key not in drawn:  # the same sizes are tried again and again
            drawn[key] = draw(other, seed=0)  # as a preview is
        plan = drawn[key]
        return plan, lambda: plan.shuffle.smallest_p

    whole = run._Trials(view, draws_again)
    right = whole._smallest(situation, found, sizes, enough)
    assert right is not None
    place = sizes.index(right)
    assert place > 0
    for most in range(1, 5):
        monkeypatch.setattr(run, "MOST_PLAIN", most)
        few = run._Trials(view, draws_again)
        for guess in (sizes[-1], sizes[-1], right):
            told = few._smallest(situation, found, sizes, guess.facts["needed"])
            assert told in (None, right)


def test_the_tea_of_four_teams_is_seen_and_named() -> None:
    """Whether water and time depend on each other lies half between teams in their lessons."""
    (part,) = [f for f in preview(STUDIES["tea in four teams"]).audit if f.code == "alias.part"]
    assert part.facts["term"] == ["water temperature", "steep time"]
    assert part.facts["groups"] == ["lesson", "team"]
    assert "water temperature and steep time depend on each other" in part.message
    assert "lesson and team" in part.message


def test_a_plan_of_another_size_than_the_study_gets_no_change_of_size() -> None:
    made = study(limits=Limits(items=16))
    few = [f for f in preview(made, items=4).audit if f.code == "few_layouts"]
    assert few
    assert not few[0].change


def test_a_line_that_asks_for_more_than_its_finding_says_is_told_as_a_common_one() -> None:
    """14 pots of 3 feeds: 15 would come out even, but a clear answer takes more."""
    three = StudyFactor(name="feed", levels=("a", "b", "c"), shared=False)
    rough = GOOD.model_copy(update={"spread": Spread(items=2.0)})
    made = study(factors=(three,), responses=(rough,), limits=Limits(items=14))
    plan = preview(made)
    by_code = {finding.code: finding for finding in plan.audit}
    uneven, weak = by_code["unequal"], by_code["no_verdict"]
    assert uneven.change == weak.change
    assert weak.change[0].value > uneven.facts["above"] == 15
    assert uneven.facts["together"]
    assert "together" not in weak.facts
    text = "\n".join(fairness_lines(plan))
    line = f"in [limits] write items = {weak.change[0].value}."
    common = f"In study.toml, for this and other findings together: {line}"
    assert text.count(common) == 1


@pytest.mark.long
def test_no_common_line_gives_fewer_than_its_finding_asks_for(changes: list[Carried]) -> None:
    for one in changes:
        needed = one.finding.facts.get("needed")
        if "together" in one.finding.facts and one.finding.code == "no_replication":
            assert needed > one.finding.facts["members"], (one.name, one.finding.code)
    heat = StudyFactor(name="heat", levels=("hot", "cold"), applied_to="tray")
    feed = StudyFactor(name="feed", levels=("a", "b", "c"), shared=False)
    trays = (StudyGroup(name="day", count=2), StudyGroup(name="tray", count=4, within="day"))
    made = study(factors=(feed, heat), groups=trays, limits=Limits(items=8, fraction=True))
    for finding in preview(made).audit:
        if finding.code in ("no_replication", "few_layouts") and finding.facts["unit"] == "tray":
            assert finding.facts.get("needed", 9) > 8
