"""Two people plan the same folder at once: the first is served, the other is told."""

from __future__ import annotations

import datetime
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.command_line import CommandLine
from tests.service.test_service_extend import DAY, STUDY, measure, print_sheets
from trials.errors import PlanError
from trials.service.extend import extend_plan
from trials.service.opening import held_plan, open_study
from trials.service.plan import draw_plan
from trials.workspace import open_workspace, read_plan


@pytest.fixture
def planes(tmp_path: Path) -> Path:
    folder = tmp_path / "planes"
    folder.mkdir()
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    return folder


def once(do: Callable[[], object], then: Callable[..., object]) -> Callable[..., object]:
    """Return ``then``, before whose first call something else happens."""
    waiting = [do]

    def both(*arguments: object) -> object:
        if waiting:
            waiting.pop()()
        return then(*arguments)

    return both


def kept(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_the_second_of_two_plans_is_refused_and_leaves_the_first_alone(
    planes: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # the other one is done between this one's first look at the folder and its turn to write
    first: list[dict[str, bytes]] = []

    def other() -> None:
        draw_plan(planes, seed=1, today=DAY)
        first.append(kept(planes))

    monkeypatch.setattr("trials.service.plan.open_study", once(other, open_study))
    with pytest.raises(PlanError) as caught:
        draw_plan(planes, seed=2, items=20, today=DAY)
    assert caught.value.code == "plan.drawn_meanwhile"
    assert "was first" in caught.value.what
    assert "trials plan" in caught.value.do
    assert "--seed 2 --items 20" in caught.value.do
    assert kept(planes) == first[0]
    # having seen it, the plan can be replaced, and the seed is told
    planned = draw_plan(planes, seed=2, items=20, today=DAY)
    assert planned.plan.seeds_tried == (1, 2)
    assert len(planned.plan.rows) == 20


def test_two_who_ask_for_the_same_get_the_same(
    planes: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def other() -> None:
        draw_plan(planes, seed=1, today=DAY)

    monkeypatch.setattr("trials.service.plan.open_study", once(other, open_study))
    assert draw_plan(planes, today=DAY).same  # a study keeps its seed


def test_two_who_extend_at_once(planes: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    draw_plan(planes, seed=3, today=DAY)
    print_sheets(planes)
    measure(planes, 0, "first.csv")

    def other() -> None:
        extend_plan(planes, seed=4, items=8, today=DAY)

    monkeypatch.setattr("trials.service.extend.held_plan", once(other, held_plan))
    with pytest.raises(PlanError) as caught:
        extend_plan(planes, items=4, today=DAY + datetime.timedelta(days=1))
    assert caught.value.code == "plan.drawn_meanwhile"
    assert len(read_plan(open_workspace(planes)).rows) == 24


def test_two_programs_at_once_leave_one_whole_plan(line: CommandLine) -> None:
    line.run("new", "planes", "--example", "planes")
    folder = line.folder / "planes"
    root = Path(__file__).parents[2]
    both = [
        subprocess.Popen(
            [sys.executable, "-m", "trials", "plan", str(folder), "--seed", seed],
            cwd=root,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for seed in ("1", "2")
    ]
    told = [one.communicate(timeout=120) for one in both]
    codes = [one.returncode for one in both]
    plan = read_plan(open_workspace(folder))
    if sorted(codes) == [0, 1]:
        served = codes.index(0)
        assert plan.seed == served + 1
        assert "Someone else drew a plan for this study" in told[1 - served][1]
    else:  # one came to look only when the other was done
        assert codes == [0, 0]
        assert set(plan.seeds_tried) == {1, 2}
    assert line.json("plan", "planes")["digest"]  # whole, and drawn again as it is
