"""More items for a study with measurements: what was lost is made up for, and nobody adds blindly.

The studies and numbers are invented.
"""

from __future__ import annotations

import datetime
import json
import random
from collections import Counter
from pathlib import Path

import pytest

from trials.errors import PlanError
from trials.service.analyse import analyse_folder
from trials.service.collect import collect_files
from trials.service.extend import extend_plan
from trials.service.lost import record_lost
from trials.service.opening import open_planned
from trials.service.plan import draw_plan
from trials.workspace import lock_plan

DAY = datetime.date(2026, 3, 2)

STUDY = """
title = "Paper planes"
question = "Which plane flies further?"
item_name = "plane"

[factors.wing]
levels = ["broad", "narrow"]
shared = false

[factors.paper]
levels = ["thin", "thick"]
shared = false

[responses.distance]
label = "distance flown"
unit = "m"
reducer = "value"
compare = "difference"
worthwhile = 1
expected = 3

[limits]
copies = 4
"""


@pytest.fixture
def planes(tmp_path: Path) -> Path:
    """Return a study with its plan, as printed."""
    folder = tmp_path / "planes"
    folder.mkdir()
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    draw_plan(folder, seed=3, today=DAY)
    print_sheets(folder)
    return folder


def print_sheets(folder: Path) -> None:
    opened = open_planned(folder)
    lock_plan(opened.here, opened.plan, DAY)


def measure(folder: Path, first: int, name: str, without: tuple[str, ...] = ()) -> None:
    """Take in a distance for each plane from a row of the plan on."""
    lines = ["item,distance (m)"]
    for row in open_planned(folder).plan.rows[first:]:
        if row.item not in without:
            chance = random.Random(row.item)  # noqa: S311 - a bench, not a secret
            far = 6.0 + 0.9 * (row.factors["wing"] == "narrow") + chance.gauss(0, 1.2)
            lines.append(f"{row.item},{far:.2f}")
    (folder / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
    collect_files(folder, (folder / name,))


def test_what_was_lost_is_made_up_for(planes: Path) -> None:
    plan = open_planned(planes).plan
    one = ("broad", "thin")
    lost = tuple(row.item for row in plan.rows if tuple(row.factors.values()) == one)
    record_lost(planes, lost, why="rained on")
    measure(planes, 0, "first.csv", lost)
    analyse_folder(planes)
    longer = extend_plan(planes, seed=4, today=DAY)
    for before, after in zip(plan.rows, longer.plan.rows, strict=False):
        assert (before.item, before.factors) == (after.item, after.factors)
    part = longer.plan.parts[-1]
    assert part.makes_up
    assert set(part.without) == set(lost)
    made = Counter(tuple(row.factors.values()) for row in longer.plan.rows[16:])
    assert made[one] == max(made.values()) > 4
    text = "\n".join(longer.text())
    assert "makes up for what is missing so far (4 of the earlier planes lost)" in text
    # the study goes on: printed, measured and analysed with a shuffle that is replayed by parts
    print_sheets(planes)
    measure(planes, 16, "second.csv")
    (found,) = analyse_folder(planes).findings.responses
    assert found.n_items == 28
    assert all(effect.p_randomisation is not None for effect in found.effects)


def test_a_lost_plane_that_was_read_first_counts_as_made(planes: Path) -> None:
    measure(planes, 0, "first.csv")
    item = open_planned(planes).plan.rows[0].item
    record_lost(planes, (item,), why="trodden on after it was measured")
    assert extend_plan(planes, seed=4, today=DAY).plan.parts[-1].without == ()


def test_a_part_that_is_printed_and_not_measured_takes_no_other_after_it(planes: Path) -> None:
    measure(planes, 0, "first.csv")
    extend_plan(planes, seed=4, items=8, today=DAY)
    extend_plan(planes, items=4, today=DAY)  # not printed yet: drawn again
    print_sheets(planes)
    with pytest.raises(PlanError) as caught:
        extend_plan(planes, seed=5, today=DAY)
    told = caught.value
    assert told.code == "plan.part_unmeasured"
    assert "not measured yet" in told.what
    assert told.found == "4 planes printed on 2026-03-02, and no reading of any of them"
    assert "trials collect" in told.do
    assert "trials lost" in told.do
    assert len(open_planned(planes).plan.parts) == 2


def test_one_reading_of_the_last_part_is_enough_to_add_another(planes: Path) -> None:
    measure(planes, 0, "first.csv")
    extend_plan(planes, seed=4, items=8, today=DAY)
    print_sheets(planes)
    some = tuple(row.item for row in open_planned(planes).plan.rows[17:])
    measure(planes, 16, "second.csv", some)
    assert len(extend_plan(planes, seed=5, items=8, today=DAY).plan.parts) == 3


def test_a_part_of_which_everything_was_lost_is_nothing_to_wait_for(planes: Path) -> None:
    measure(planes, 0, "first.csv")
    extend_plan(planes, seed=4, items=8, today=DAY)
    print_sheets(planes)
    rows = open_planned(planes).plan.rows[16:]
    record_lost(planes, tuple(row.item for row in rows), why="the box was thrown away")
    longer = extend_plan(planes, seed=5, items=8, today=DAY)
    assert len(longer.plan.parts[-1].without) == 8


def test_what_it_should_settle_is_told_with_what_is_assumed(planes: Path) -> None:
    measure(planes, 0, "first.csv")
    assert extend_plan(planes, seed=4, today=DAY).to_dict()["settles"] == []  # nobody has looked
    (found,) = analyse_folder(planes).findings.responses
    longer = extend_plan(planes, today=DAY)
    told = {one["factor"]: one for one in longer.to_dict()["settles"]}
    open_ones = {v.factor for v in found.verdicts if v.verdict == "not settled"}
    assert set(told) == open_ones != set()
    for one in told.values():
        assert 0 <= one["if_as_so_far"] <= 1
        assert 0 <= one["if_nothing"] <= 1
    text = "\n".join(longer.text())
    assert "If wing really changes distance flown as it did so far, and planes differ" in text
    assert "If wing really does nothing to distance flown, they do" in text


def test_findings_that_can_not_be_read_leave_the_chances_out(planes: Path) -> None:
    measure(planes, 0, "first.csv")
    analyse_folder(planes)
    path = open_planned(planes).here.findings
    path.write_text(json.dumps({"format_version": 99}), encoding="utf-8")
    assert extend_plan(planes, seed=4, today=DAY).chances == {}


def test_a_part_that_was_never_printed_is_told_to_give_way(planes: Path) -> None:
    measure(planes, 0, "first.csv")
    first = extend_plan(planes, seed=4, items=8, today=DAY)
    assert first.to_dict()["replaces"] is None
    assert "takes the place" not in " ".join(first.text())
    later = DAY + datetime.timedelta(days=1)
    second = extend_plan(planes, items=4, today=later)
    assert len(second.plan.rows) == 20  # and not 28
    assert second.to_dict()["replaces"] == {"items": 8, "asked": "2026-03-02"}
    told = " ".join(second.text())
    assert "This takes the place of the part of 8 planes that was asked for on 2026-03-02" in told
    again = extend_plan(planes, items=4, today=later)
    assert again.plan.rows == second.plan.rows
    assert "the very same came out" in " ".join(again.text())
    print_sheets(planes)
    measure(planes, 16, "second.csv")
    assert extend_plan(planes, items=4, today=later).to_dict()["replaces"] is None


def test_open_questions_and_the_number_named_before_are_told(planes: Path) -> None:
    measure(planes, 0, "first.csv")
    plan = open_planned(planes).plan
    twice = f"item,distance (m)\n{plan.rows[0].item},3.21\n"
    (planes / "again.csv").write_text(twice, encoding="utf-8")
    collect_files(planes, (planes / "again.csv",))
    analysed = analyse_folder(planes)
    questions = [question.id for question in analysed.measured.open_questions]
    assert len(questions) > 1
    (found,) = analysed.findings.responses
    named = {v.factor: v.to_settle for v in found.verdicts if v.to_settle is not None}
    assert named
    longer = extend_plan(planes, seed=4, items=8, today=DAY)
    told = longer.to_dict()
    assert told["open_questions"] == questions
    assert {one["factor"]: one["count"] for one in told["to_settle"]} == {
        factor: settle.count for factor, settle in named.items()
    }
    assert {one["planned"] for one in told["to_settle"]} == {24}
    text = " ".join(longer.text())
    assert f"{len(questions)} questions about the readings are still open (" in text
    assert all(question in text for question in questions)
    for settle in named.values():
        assert f"about {settle.count} planes in all would probably settle" in text
