"""The study folder: what is kept, what is locked, what is put right."""

from __future__ import annotations

import datetime
import json
import subprocess
import sys
from pathlib import Path

import pytest

from trials import workspace
from trials.design.values import Plan, PlanFactor, PlanGroup, PlanRow, Shuffle
from trials.errors import FileError, PlanError
from trials.files import write_bytes
from trials.workspace import Workspace

DAY = datetime.date(2031, 3, 4)


def a_plan(seed: int = 1, seeds_tried: tuple[int, ...] = (1,)) -> Plan:
    """Return a small plan: two shapes, folded by two teams."""
    return Plan(
        program_version="0",
        study_digest="s",
        seed=seed,
        seeds_tried=seeds_tried,
        family="full factorial",
        factors=(
            PlanFactor(
                name="shape",
                levels=("dart", "=glider"),
                unit="",
                kind="category",
                scale="linear",
                applied_to=None,
            ),
        ),
        groups=(
            PlanGroup(
                name="team",
                path="team",
                within=None,
                step=None,
                role="maker",
                members=("a", "b"),
                random=None,
            ),
        ),
        rows=(
            PlanRow(run=1, measure=2, item="K7", groups={"team": "a"}, factors={"shape": "dart"}),
            PlanRow(
                run=2, measure=1, item="M2", groups={"team": "b"}, factors={"shape": "=glider"}
            ),
        ),
        criteria={"shape": 1.0},
        skeleton=(),
        audit=(),
        power=(),
        verdict_chances=(),
        shuffle=Shuffle(kind="units", size=2.0, smallest_p={"shape": 1.0}),
    )


@pytest.fixture
def here(tmp_path: Path) -> Workspace:
    (tmp_path / "study.toml").write_text("title = 'planes'\n", encoding="utf-8")
    return workspace.open_workspace(tmp_path)


def save(here: Workspace, plan: Plan, *, measured: bool = False) -> bool:
    return workspace.save_plan(here, plan, measured=measured, today=DAY)


def test_a_folder_without_a_study_says_how_to_start_one(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="trials new") as problem:
        workspace.open_workspace(tmp_path)
    assert problem.value.code == "workspace.no_study"


def test_the_study_file_itself_may_be_named(here: Workspace) -> None:
    assert workspace.open_workspace(here.study) == here


def test_a_saved_plan_comes_back_equal(here: Workspace) -> None:
    save(here, a_plan())
    assert workspace.load_plan(here) == (a_plan(), ())
    document = json.loads(here.plan.read_text(encoding="utf-8"))
    assert document["digest"] == a_plan().digest()
    assert here.study_as_planned.read_bytes() == here.study.read_bytes()


def test_the_table_of_the_plan_is_safe_to_open(here: Workspace) -> None:
    save(here, a_plan())
    assert here.plan_table.read_text(encoding="utf-8") == (
        "run,measure,item,team,shape\n1,2,K7,a,dart\n2,1,M2,b,'=glider\n"
    )


def test_no_plan_yet(here: Workspace) -> None:
    with pytest.raises(PlanError, match="trials plan"):
        workspace.load_plan(here)


@pytest.mark.parametrize(
    "spoiled",
    ["", "[]", "{}", "\x00\x01", "[" * 100_000, '{"digest": "x"}', '"digest"', "{not json"],
)
def test_a_spoiled_plan_is_refused(here: Workspace, spoiled: str) -> None:
    here.plan.write_text(spoiled, encoding="utf-8")
    with pytest.raises(PlanError) as problem:
        workspace.load_plan(here)
    assert problem.value.code in ("plan.changed", "plan.format")


def test_a_plan_changed_by_hand_is_refused(here: Workspace) -> None:
    save(here, a_plan())
    text = here.plan.read_text(encoding="utf-8")
    here.plan.write_text(text.replace('"K7"', '"K8"'), encoding="utf-8")
    with pytest.raises(PlanError, match="check code"):
        workspace.load_plan(here)


def test_a_table_changed_by_hand_is_kept_and_written_anew(here: Workspace) -> None:
    save(here, a_plan())
    right = here.plan_table.read_text(encoding="utf-8")
    here.plan_table.write_text(right.replace("dart", "arrow"), encoding="utf-8")
    _, notes = workspace.load_plan(here)
    assert len(notes) == 1
    assert "history/plan-changed-1.csv" in notes[0].replace("\\", "/")
    assert "arrow" in (here.history / "plan-changed-1.csv").read_text(encoding="utf-8")
    assert here.plan_table.read_text(encoding="utf-8") == right
    assert workspace.load_plan(here)[1] == ()


def test_a_table_saved_with_other_line_ends_is_the_same_table(here: Workspace) -> None:
    save(here, a_plan())
    here.plan_table.write_bytes(here.plan_table.read_bytes().replace(b"\n", b"\r\n"))
    assert workspace.load_plan(here)[1] == ()


def test_a_missing_table_is_written_again(here: Workspace) -> None:
    save(here, a_plan())
    here.plan_table.unlink()
    assert workspace.load_plan(here)[1] == ()
    assert here.plan_table.is_file()


def test_before_printing_a_plan_may_be_drawn_again(here: Workspace) -> None:
    assert save(here, a_plan()) is False
    assert save(here, a_plan(2, (1, 2))) is False
    plan, _ = workspace.load_plan(here)
    assert workspace.departures(here, plan) == (
        "The plan was drawn 2 times with different seeds before it was used (seeds 1, 2).",
    )


def test_the_date_of_the_first_printing_stays(here: Workspace) -> None:
    save(here, a_plan())
    locked = workspace.lock_plan(here, a_plan(), DAY)
    assert locked.locked == "2031-03-04"
    assert workspace.lock_plan(here, locked, DAY + datetime.timedelta(days=3)) == locked
    assert workspace.load_plan(here)[0] == locked


def test_after_printing_a_new_plan_is_a_departure(here: Workspace) -> None:
    save(here, a_plan())
    workspace.lock_plan(here, a_plan(), DAY)
    assert save(here, a_plan(2)) is True
    plan, _ = workspace.load_plan(here)
    assert plan.seed == 2
    assert plan.locked is None
    assert json.loads((here.history / "plan-1.json").read_bytes())["seed"] == 1
    (told,) = workspace.departures(here, plan)
    assert "nothing had been measured" in told


def test_after_the_first_reading_the_plan_stays(here: Workspace) -> None:
    save(here, a_plan())
    with pytest.raises(PlanError, match="trials lost") as problem:
        save(here, a_plan(2), measured=True)
    assert problem.value.code == "plan.measured"
    assert workspace.load_plan(here)[0] == a_plan()


@pytest.mark.parametrize("printed", [False, True])
@pytest.mark.parametrize("stopped_at", ["study-for-plan", "plan.json", "plan.csv", "take place"])
def test_a_program_stopped_while_saving_leaves_one_plan_with_its_study(
    here: Workspace, monkeypatch: pytest.MonkeyPatch, stopped_at: str, printed: bool
) -> None:
    """Either the old plan with the old study.toml, or the new with the new; and no false tale."""
    save(here, a_plan())
    if printed:
        workspace.lock_plan(here, a_plan(), DAY)
    asked = {1: here.study.read_bytes(), 2: b"title = 'other planes'\n"}
    here.study.write_bytes(asked[2])

    def stop(path: Path, content: bytes) -> None:
        if path.name.startswith(stopped_at):
            raise KeyboardInterrupt
        write_bytes(path, content)

    def stop_before(*_: Path) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr("trials.workspace.write_bytes", stop)
        patch.setattr("trials.workspace.write_text", lambda path, text: stop(path, text.encode()))
        if stopped_at == "take place":
            patch.setattr("trials.workspace.take_place", stop_before)
        with pytest.raises(KeyboardInterrupt):
            save(here, a_plan(2))
    plan, _ = workspace.load_plan(here)
    assert plan.seed == (2 if stopped_at in ("plan.csv", "take place") else 1)
    assert here.study_as_planned.read_bytes() == asked[plan.seed]
    assert len(workspace.departures(here, plan)) == (printed and plan.seed == 2)
    assert save(here, a_plan(3)) is (printed and plan.seed == 1)
    assert len(workspace.departures(here, a_plan(3))) == printed
    assert sorted(here.history.glob("study-*")) == [here.study_as_planned]


HOLD = """
import sys, time
from pathlib import Path
from trials.workspace import Workspace
with Workspace(Path(sys.argv[1])).held():
    print("held", flush=True)
    time.sleep(60)
"""


def test_two_people_at_once(here: Workspace) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(here.folder)], stdout=subprocess.PIPE, text=True
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "held\n"
        with pytest.raises(FileError, match="Someone else"), here.held(seconds=0.1):
            pytest.fail("both held it")
        other.kill()
        other.wait()
    with here.held():
        pass  # a killed program leaves nothing locked
