"""What check, power, plan and plan --options say of one study agrees."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.design.test_audit_remedies import ON_TRAY, weak
from tests.design.test_audit_situations import FEED, LIGHT
from trials.design.audit import SITUATIONS
from trials.design.draw import preview
from trials.design.values import AuditFinding, Plan
from trials.errors import PlanError
from trials.service.alternatives import compare_plans
from trials.service.check import check_study
from trials.service.new import new
from trials.service.plan import draw_plan
from trials.service.power import power_of_study
from trials.service.sheets import make_sheets
from trials.service.standing import standing
from trials.study import Limits, Study, StudyGroup, read_study, with_changes, write_study

DEMO = Path(__file__).parents[2] / "study_demo"
TRAYS = (StudyGroup(name="tray", count=4),)


def tea() -> Study:
    made = read_study(DEMO / "tea" / "study.toml")
    name = made.responses[0].name
    return with_changes(
        made, [(("responses", name, "worthwhile"), 30), (("responses", name, "expected"), 80)]
    )


FIVE: dict[str, Callable[[], Study]] = {
    "items": lambda: weak(1.5),
    "two factors": lambda: weak(3.0, factors=(FEED, LIGHT)),
    "trays": lambda: weak(1.0, factors=(ON_TRAY,), groups=TRAYS),
    "copies": lambda: weak(2.0, limits=Limits(copies=6)),
    "tea": tea,
}


def folder_of(tmp_path: Path, study: Study) -> Path:
    folder = tmp_path / "study"
    folder.mkdir()
    (folder / "study.toml").write_text(write_study(study), encoding="utf-8")
    return folder


def finding(plan: Plan) -> AuditFinding | None:
    return next((found for found in plan.audit if found.code == "no_verdict"), None)


@pytest.mark.parametrize("name", FIVE)
def test_the_number_that_gives_a_clear_answer_is_one(tmp_path: Path, name: str) -> None:
    """check and power print the same, it does, and one step less does not: drawn in full."""
    study = FIVE[name]()
    folder = folder_of(tmp_path, study)
    checked, told = check_study(folder), power_of_study(folder)
    found = finding(checked.plan)
    assert found is not None
    needed = found.facts["needed"]
    assert f"Plan {needed} " in "\n".join(checked.text())
    assert re.search(f"clear answer about .*: plan {needed} ", "\n".join(told.text()))
    assert [one["needed"] for one in told.to_dict()["for_a_clear_answer"]] == [needed]
    change = [(one.keys, one.value) for one in found.change]
    lines = found.facts.get("smallest", change)  # change: what settles other findings too
    assert finding(preview(with_changes(study, lines))) is None
    less = [(keys, value - _step(study, keys)) for keys, value in lines]
    assert finding(preview(with_changes(study, less))) is not None
    # the curve of the same factor starts to be enough at just this number
    curve = next(c for c in told.curves if c.factor == found.facts["names"][0])
    first = [curve.first(chance) for chance in ("none_settled", "expected_settled")]
    assert min(point.units for point in first if point is not None) == needed


def _step(study: Study, keys: tuple[str, ...]) -> int:
    """One step: a pot more in each lesson with its cups, a copy more, or two trays of four."""
    if keys[0] == "groups":
        return 1 if study.groups[0].name == "lesson" else 2
    return {"copies": 1, "items": 8 if study.groups else 4 if len(study.factors) > 1 else 2}[
        keys[-1]
    ]


def test_numbers_are_those_of_the_plan_in_the_folder(tmp_path: Path) -> None:
    folder = tmp_path / "tea"
    new(folder, example="tea")
    text = "\n".join(check_study(folder).text())
    assert text.count("Numbers of a trial draw; the plan itself can differ a little.") == 1
    planned = draw_plan(folder, seed=5)
    checked, told, options = check_study(folder), power_of_study(folder), compare_plans(folder)
    assert checked.of.which == "plan"
    assert checked.to_dict()["digest"] == planned.plan.digest()
    for key in ("power", "verdict_chances", "detectable", "audit"):
        assert checked.to_dict()[key] == planned.to_dict()[key]
    assert told.to_dict()["verdict_chances"] == planned.to_dict()["verdict_chances"]
    own = next(one for one in options.plans if one.code == "as_asked")
    sizes = {row.term: row.at_80 for row in planned.plan.detectable if row.spread == "given"}
    assert {name: sizes[name] for name in own.shows} == pytest.approx(dict(own.shows))
    assert "trial draw" not in "\n".join([*checked.text(), *options.text()])


def test_a_changed_study_is_shown_as_it_will_be_drawn(tmp_path: Path) -> None:
    """The seed is kept, so check knows the next plan to the digit."""
    folder = tmp_path / "tea"
    new(folder, example="tea")
    draw_plan(folder, seed=5)
    path = folder / "study.toml"
    path.write_text(
        path.read_text().replace("copies = 12", "copies = 14").replace("count = 6", "count = 7")
    )
    checked = check_study(folder)
    assert checked.of.which == "next plan"
    assert "this study keeps its seed, 5" in "\n".join(checked.text())
    drawn = draw_plan(folder)
    assert drawn.plan.seed == 5
    assert drawn.plan == checked.plan


def test_a_printed_plan_stands_whatever_is_hoped_for_now(tmp_path: Path) -> None:
    folder = tmp_path / "planes"
    new(folder, example="planes")
    plan = draw_plan(folder, seed=3).plan
    make_sheets(folder)
    path = folder / "study.toml"
    path.write_text(path.read_text().replace("items = 1\n", "items = 2\n"))
    found = standing(folder)
    assert found.which == "plan"
    assert found.plan.rows == plan.rows
    assert found.plan.power != plan.power
    assert "Next: trials collect" in check_study(folder).text()[-1]


def test_what_a_printed_plan_would_show_follows_the_spread_alone(tmp_path: Path) -> None:
    """Even where nothing is hoped for, so that there is no chance to tell of it by."""
    made = read_study(DEMO / "planes" / "study.toml")
    name = made.responses[0].name
    plain = with_changes(
        made, [(("responses", name, "worthwhile"), None), (("responses", name, "expected"), None)]
    )
    folder = folder_of(tmp_path, plain)
    plan = draw_plan(folder, seed=3).plan
    make_sheets(folder)
    rougher = with_changes(plain, [(("responses", name, "spread", "items"), 2)])
    (folder / "study.toml").write_text(write_study(rougher), encoding="utf-8")
    found = standing(folder)
    assert found.which == "plan"
    assert plan.power == found.plan.power == ()
    assert found.plan.detectable != plan.detectable
    (tmp_path / "anew").mkdir()
    anew = draw_plan(folder_of(tmp_path / "anew", rougher), seed=3).plan
    assert found.plan.detectable == anew.detectable


def test_check_changes_nothing_even_where_the_plan_is_damaged(tmp_path: Path) -> None:
    folder = tmp_path / "planes"
    new(folder, example="planes")
    draw_plan(folder, seed=3)
    (folder / "plan.json").write_text("{", encoding="utf-8")
    (folder / "plan.csv").write_text("nothing", encoding="utf-8")
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    assert "There is a plan.json that can't be read" in "\n".join(check_study(folder).text())
    assert before == {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_what_hangs_on_the_draw_is_told_with_other_draws() -> None:
    study = read_study(DEMO / "tea" / "study.toml")
    four = StudyGroup(name="team", label="team", count=4, role="maker")
    plan = preview(study.model_copy(update={"groups": (four, *study.groups)}))
    hanging = {one.code for one in SITUATIONS if one.layout or one.order}
    found = [one for one in plan.audit if one.code in hanging]
    assert found
    for one in found:
        assert 0 <= one.facts["seen_in"] <= one.facts["other_draws"] == 5
        assert "trial draw" in one.message
        assert "again for another draw" not in one.remedy


def test_a_damaged_plan_is_kept_aside_and_drawn_again_with_its_seed(tmp_path: Path) -> None:
    folder = tmp_path / "planes"
    new(folder, example="planes")
    first = draw_plan(folder, seed=3).plan
    draw_plan(folder, seed=4)
    path = folder / "plan.json"
    damaged = path.read_text().replace('"dart"', '"dort"', 1)
    path.write_text(damaged, encoding="utf-8")
    again = draw_plan(folder)
    assert again.plan.seed == 4
    assert again.plan.seeds_tried == (3, 4)
    assert again.aside == "history/plan-damaged-1.json"
    assert (folder / again.aside).read_text(encoding="utf-8") == damaged
    assert "kept as history/plan-damaged-1.json" in "\n".join(again.text())
    assert first.seed == 3


def test_a_plan_of_a_later_version_is_not_called_damaged(tmp_path: Path) -> None:
    folder = tmp_path / "planes"
    new(folder, example="planes")
    draw_plan(folder, seed=3)
    path = folder / "plan.json"
    path.write_text(path.read_text().replace('"format_version": 1', '"format_version": 9'))
    with pytest.raises(PlanError) as caught:
        draw_plan(folder)
    assert caught.value.code == "plan.format"
