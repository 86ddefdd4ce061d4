"""``trials power``: of a plan or a specimen, as text, as one document and as a picture."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.command_line import CommandLine
from trials.errors import RequestError
from trials.service.new import new
from trials.service.plan import draw_plan
from trials.service.power import PowerRequest, power_of, power_of_study
from trials.service.power_text import bar, found_lines, how_many_lines, simulation_lines
from trials.words.forbidden import find_forbidden


def made(tmp_path: Path, name: str) -> Path:
    folder = tmp_path / name
    new(folder, example=name)
    return folder


def test_a_specimen_and_then_the_plan(tmp_path: Path) -> None:
    folder = made(tmp_path, "tea")
    before = power_of_study(folder)
    assert before.to_dict()["plan"] == "specimen"
    draw_plan(folder, seed=3)
    found = power_of_study(folder)
    told = found.to_dict()
    assert told["plan"] == "drawn"
    assert {"power", "verdict_chances", "detectable", "how_many", "simulation", "files"} < set(told)
    assert told["simulation"] is None
    assert told["exact"]
    assert [(c["factor"], c["unit"]) for c in told["how_many"]] == [
        ("temperature", "pot"),
        ("steep", None),
    ]
    for name in told["files"]:
        assert (folder / name).stat().st_size > 1000
    text = "\n".join(found.text())
    assert "Of the plan in this folder (seed 3)." in text
    assert "how many pots a version?" in text
    assert "(now)" in text
    assert "More cups in the same pots help little" in text


def test_power_follows_the_spread_as_it_stands_now(tmp_path: Path) -> None:
    """A plan was drawn; then a practice run showed more spread than was guessed."""
    folder = made(tmp_path, "planes")
    draw_plan(folder, seed=3)
    before = power_of_study(folder).to_dict()
    path = folder / "study.toml"
    path.write_text(path.read_text().replace("items = 1\n", "items = 9\n"))
    after = power_of_study(folder).to_dict()
    assert after["plan"] == "drawn"
    assert after["power"][0]["power"] < before["power"][0]["power"]


def test_a_plan_that_no_longer_fits_gives_way_to_a_specimen(tmp_path: Path) -> None:
    folder = made(tmp_path, "planes")
    draw_plan(folder, seed=3)
    path = folder / "study.toml"
    path.write_text(path.read_text().replace("glider", "kite"))
    assert power_of_study(folder).to_dict()["plan"] == "specimen"


def test_simulated_studies_stand_beside_the_calculated(tmp_path: Path) -> None:
    folder = made(tmp_path, "planes")
    found = power_of_study(folder, simulate=400, seed=5)
    assert found.simulation is not None
    told = found.to_dict()["simulation"]
    assert (told["studies"], told["seed"]) == (400, 5)
    for test in told["tests"]:
        share = test["found"]
        assert abs(share["simulated"] - share["calculated"]) < 4 * share["error"]
    text = "\n".join(found.text())
    assert "400 simulated" in text
    assert "±" in text
    assert found == power_of_study(folder, simulate=400, seed=5)


def test_a_seed_without_simulation_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RequestError) as caught:
        power_of_study(made(tmp_path, "planes"), seed=5)
    assert caught.value.code == "power.seed_alone"


def test_one_comparison_shows_sizes_around_it() -> None:
    told = power_of(PowerRequest(groups=4, f=0.25, power=0.8)).text()
    table = told[told.index("How many items of each version?") :]
    assert [line.split()[0] for line in table[3:]] == [
        "11", "16", "22", "31", "45", "68", "90", "135", "180",
    ]  # fmt: skip
    assert bar(0.8) == "########.."


@pytest.mark.parametrize("name", ["tea", "planes", "greenhouse"])
def test_no_word_that_a_student_should_not_meet(tmp_path: Path, name: str) -> None:
    found = power_of_study(made(tmp_path, name), simulate=20)
    assert found.simulation is not None
    lines = [
        *found_lines(found.study, found.plan, found.plan.detectable),
        *how_many_lines(found.study, found.curves),
        *simulation_lines(found.study, found.simulation),
    ]
    assert find_forbidden("\n".join(lines)) == ()


def test_the_command_line_takes_studies_of_a_folder_only(line: CommandLine) -> None:
    refused = line.json("power", "--groups", "3", "--simulate", "100", code=2)
    assert refused["error"]["code"] == "options.no_folder"


def test_an_answer_that_a_plan_never_gives_is_said_to_be_out_of_reach(tmp_path: Path) -> None:
    """A ban leaves a combination unseen, of which nobody can say that it makes no difference."""
    folder = made(tmp_path, "greenhouse")
    path = folder / "study.toml"
    ban = '[limits]\nforbidden = [{ light = "16", feed = "full" }]\n'
    path.write_text(path.read_text().replace("[limits]\n", ban, 1))
    text = "\n".join(power_of_study(folder).text())
    assert "if there is none: never in this plan, however many you make." in text
    assert "The reason: no pot has hours of light: 16\xa0h together with plant food: full." in text
    assert "What happens there nobody sees, so nobody can say that nothing happens." in text


def test_an_answer_that_takes_many_is_not_called_out_of_reach(tmp_path: Path) -> None:
    text = "\n".join(power_of_study(made(tmp_path, "greenhouse")).text())
    assert "never in this plan" not in text
