"""A table without a study: every option reaches the analysis, and the JSON has the agreed shape."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

import trials
from tests.command_line import ROOT, CommandLine

# F. Yates (1935), oats in six blocks of three whole plots (variety) of four subplots (nitrogen).
OATS = ROOT / "tests" / "reference" / "r" / "05_oats_split_plot.csv"
READ_OATS = (
    "analyse", OATS, "--response", "Y", "--factor", "N", "--factor", "V",
    "--group", "B", "--group", "B/V", "--applied", "V=B/V", "--resamples", "0",
)  # fmt: skip

RESPONSE_KEYS = {
    "name", "unit", "scale", "n_items", "n_readings", "n_failed", "n_lost", "primary", "method",
    "effects", "variance_components", "means", "comparisons", "verdicts", "diagnostics",
    "not_estimable", "set_aside",
}  # fmt: skip
EFFECT_KEYS = {
    "term", "stratum", "num_df", "den_df", "sum_sq", "mean_sq", "f", "p", "p_randomisation",
    "p_permutation", "exact", "partial_omega_sq", "partial_eta_sq", "partial_eta_sq_interval",
    "share_of_variance",
}  # fmt: skip
COMPARISON_KEYS = {
    "term", "a", "b", "difference", "ratio", "se", "df", "t", "p", "p_adjusted", "adjustment",
    "interval", "interval_adjusted", "hedges_g", "hedges_g_interval",
}  # fmt: skip


@pytest.fixture(scope="module")
def oats(tmp_path_factory: pytest.TempPathFactory) -> Any:
    line = CommandLine(tmp_path_factory.mktemp("oats"))
    return line.json(*READ_OATS, "--worthwhile", "20")


def test_the_shape_of_the_findings(oats: Any) -> None:
    assert set(oats) >= {
        "format_version", "program_version", "plan_digest", "record_digest", "responses",
    }  # fmt: skip
    assert oats["plan_digest"] is None
    (found,) = oats["responses"]
    assert set(found) >= RESPONSE_KEYS
    assert set(found["method"]) >= {"estimator", "df", "sums", "bounded", "notes"}
    assert all(set(effect) >= EFFECT_KEYS for effect in found["effects"])
    assert all(set(one) >= COMPARISON_KEYS for one in found["comparisons"])
    mean = found["means"][0]
    assert set(mean) >= {"term", "levels", "n", "mean", "se", "df", "interval"}
    part = found["variance_components"][0]
    assert set(part) >= {"group", "variance", "unbounded", "at_boundary"}
    verdict = found["verdicts"][0]
    assert set(verdict) >= {
        "factor", "verdict", "largest_difference", "interval", "worthwhile", "to_settle",
        "sentence",
    }  # fmt: skip


# R's aov(Y ~ N * V + Error(B/V)), kept with its versions beside the data.
def test_yates_oats_from_the_command_line(oats: Any) -> None:
    (found,) = oats["responses"]
    assert found["method"]["estimator"] == "strata"
    effects = {effect["term"]: effect for effect in found["effects"]}
    kept = json.loads(OATS.with_suffix(".json").read_bytes())["results"]["error_strata"]
    tested = [row for stratum in kept.values() for row in stratum if row["F"] is not None]
    assert {row["term"] for row in tested} == {"N", "V", "N:V"}
    for row in tested:
        assert effects[row["term"]]["f"] == pytest.approx(row["F"], rel=1e-6)
        assert effects[row["term"]]["p"] == pytest.approx(row["p"], rel=1e-6)
    assert [effects[t]["den_df"] for t in ("N", "V", "N:V")] == [45, 10, 45]


def test_python_and_the_command_line_say_the_same(oats: Any) -> None:
    frame = pd.read_csv(OATS, dtype=str, keep_default_na=False)
    structure = trials.Structure(factors=["N", "V"], groups=["B", "B/V"], applied_to={"V": "B/V"})
    options = trials.Options(response="Y", resamples=0, worthwhile=20)
    assert json.loads(json.dumps(trials.analyse_table(frame, structure, options).to_dict())) == oats


def test_without_worthwhile_there_is_no_verdict(line: CommandLine) -> None:
    (found,) = line.json(*READ_OATS)["responses"]
    assert found["verdicts"] == []
    assert "no_worthwhile" in found["method"]["notes"]


@pytest.mark.parametrize(
    ("option", "where", "expected"),
    [
        (("--df", "kenward-roger"), ("method", "df"), "kenward-roger"),
        (("--df", "satterthwaite"), ("method", "df"), "satterthwaite"),
        (("--sums", "I"), ("method", "sums"), "I"),
        (("--compare", "ratio"), ("scale",), "ratio"),
        (("--df", "kenward-roger", "--bounded"), ("method", "bounded"), True),
    ],
)
def test_an_option_reaches_the_analysis(
    line: CommandLine, option: tuple[str, ...], where: tuple[str, ...], expected: object
) -> None:
    (found,) = line.json(*READ_OATS, *option)["responses"]
    for key in where:
        found = found[key]
    assert found == expected


def test_interactions_control_and_confidence_reach_the_analysis(line: CommandLine) -> None:
    (plain,) = line.json(*READ_OATS)["responses"]
    (found,) = line.json(
        *READ_OATS, "--interactions", "1", "--control", "N=0.0cwt", "--confidence", "0.8"
    )["responses"]
    assert {effect["term"] for effect in found["effects"]} == {"N", "V"}
    against = [one for one in found["comparisons"] if one["term"] == "N"]
    assert len(against) == 3
    assert {one["adjustment"] for one in against} == {"dunnett"}
    width = [hi - lo for lo, hi in (r["means"][0]["interval"] for r in (plain, found))]
    assert width[1] < width[0]


def test_the_seed_and_the_number_of_shuffles_reach_the_analysis(line: CommandLine) -> None:
    told = (*READ_OATS[:-2], "--resamples", "99", "--seed")
    p = [
        [effect["p_permutation"] for effect in line.json(*told, seed)["responses"][0]["effects"]]
        for seed in ("1", "2", "1")
    ]
    assert p[0] == p[2] != p[1]


READINGS = """plot;treatment;dose;height;y
p1;a;1;3,1;10,5
p1;a;1;3,1;10,7
p2;a;2;2,9;11,9
p2;a;2;2,9;12,1
p3;a;3;3,3;13,2
p3;a;3;3,3;13,0
p4;b;1;3,0;9,1
p4;b;1;3,0;9,3
p5;b;2;3,2;10,6
p5;b;2;3,2;10,4
p6;b;3;2,8;11,2
p6;b;3;2,8;11,6
"""


@pytest.fixture
def table(line: CommandLine) -> Path:
    path = line.folder / "plots.csv"
    path.write_text(READINGS, encoding="latin-1")
    return path


def test_item_number_and_decimal_commas(line: CommandLine, table: Path) -> None:
    (found,) = line.json(
        "analyse", table, "--response", "y", "--factor", "treatment", "--number", "dose",
        "--item", "plot", "--interactions", "1",
    )["responses"]  # fmt: skip
    assert found["n_items"] == 6
    assert found["n_readings"] == 12
    effects = {effect["term"]: effect for effect in found["effects"]}
    assert effects["dose"]["num_df"] == 1
    assert effects["dose"]["den_df"] == 3  # six plots, not twelve rows


def test_a_covariate_takes_a_degree_of_freedom(line: CommandLine, table: Path) -> None:
    told = ("analyse", table, "--response", "y", "--factor", "treatment", "--item", "plot")
    (plain,) = line.json(*told)["responses"]
    (found,) = line.json(*told, "--covariate", "height")["responses"]
    assert found["effects"][0]["den_df"] == plain["effects"][0]["den_df"] - 1


def test_random_overrides_which_groups_are_fixed(line: CommandLine) -> None:
    blocks = [f"{b},{t},{b * t % 5 + t}" for b in range(1, 5) for t in range(1, 4)]
    (line.folder / "t.csv").write_text("block,t,y\n" + "\n".join(blocks), encoding="utf-8")
    told = ("analyse", "t.csv", "--response", "y", "--factor", "t", "--group", "block")
    (plain,) = line.json(*told)["responses"]
    assert "fixed_group:block" in plain["method"]["notes"]
    for chosen in ("all", "block"):
        (found,) = line.json(*told, "--random", chosen)["responses"]
        assert "fixed_group:block" not in found["method"]["notes"]
        assert "block" in {part["group"] for part in found["variance_components"]}


@pytest.mark.parametrize(
    ("arguments", "code", "exit_code"),
    [
        (("gone.csv", "--factor", "a"), "file.missing", 1),
        (("gone.csv",), "file.missing", 1),
        (("gone.csv", "--df", "guess"), "file.missing", 1),
        (("t.csv", "--factor", "b", "--response", "y"), "table.column_missing", 1),
        (("t.csv", "--factor", "a", "--random", "b"), "structure.unknown_group", 1),
        (("t.csv", "--factor", "a", "--control", "b=u"), "table.control_of_no_factor", 1),
        (("t.csv", "--factor", "a", "--control", "a=w"), "table.unknown_control", 1),
        (("t.csv",), "options.no_factor", 2),
        (("t.csv", "--factor", "a", "--confidence", "2"), "options.value", 2),
        (("t.csv", "--factor", "a", "--df", "guess"), "options.value", 2),
        (("t.csv", "--factor", "a", "--applied", "a"), "options.pair", 2),
        (("t.csv", "--factor", "a", "--control", "a"), "options.pair", 2),
        (("t.csv", "--factor", "a", "--applied", "a=nothing"), "structure.unknown_group", 1),
        (("t.csv", "--factor", "a", "--factor", "a"), "structure.factor_twice", 1),
        (("t.csv", "--factor", "a", "--frobnicate"), "usage", 2),
        (("t.csv", "--factor", "a", "--seed", "one"), "usage", 2),
        ((".", "--factor", "a"), "options.folder", 2),
    ],
)
def test_what_cannot_be_meant_is_refused(
    line: CommandLine, arguments: tuple[str, ...], code: str, exit_code: int
) -> None:
    (line.folder / "t.csv").write_text("a,y\nu,1\nu,2\nv,3\nv,5\n", encoding="utf-8")
    error = line.json("analyse", *arguments, code=exit_code)["error"]
    assert error["code"] == code
    assert error["do"]
    if code.endswith(("_group", "_control", "column_missing", "of_no_factor")):  # a name: which?
        assert error["found"]
        assert error["allowed"]
