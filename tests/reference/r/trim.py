"""Cut the full output of run_reference.R down to what the tests read.

    Rscript run_reference.R --out=FULL --no-power --no-timings
    python trim.py FULL

copies each CSV and writes each JSON without the parts no test uses. Every number is copied as it
stands. Contrasts, which R prints as one string ("dose0.5 - dose1"), become two sets of levels.
"""

from __future__ import annotations

import argparse
import json
import shutil
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

HERE = Path(__file__).resolve().parent
MEANS_KEEP = ("emmean", "response", "se", "df", "lower", "upper")
PAIRS_KEEP = (
    *("estimate", "ratio", "se", "df", "t", "p", "p_tukey"),
    *("lower", "upper", "lower_tukey", "upper_tukey"),
    *("delta", "p_tost", "ci90_lower", "ci90_upper", "equivalent_at_0.05"),
)

MIXED = ("variance_components", "anova/type3_kenward_roger", "anova/type3_satterthwaite")
LESSONS = tuple(f"{lesson}/{key}" for lesson in ("lesson_random", "lesson_fixed") for key in MIXED)
LESSON_MEANS = tuple(
    f"{lesson}/emmeans_{term}"
    for lesson in ("lesson_random", "lesson_fixed")
    for term in ("heat", "dye")
)
STRATA = ("error_strata_readings", "error_strata_cell_means")
OATS = (
    *(*MIXED, "anova/type1_kenward_roger"),
    *("emmeans_N", "emmeans_V", "emmeans_NV/kenward_roger/emmeans"),
    *("emmeans_NV/satterthwaite/emmeans", "N_within_V", "V_within_N"),
)
TOOTH = (
    *("type1_supp_first", "type2", "type3", "emmeans_supp", "emmeans_dose"),
    *("emmeans_cells/emmeans", "simple_effects_dose_within_supp"),
    "simple_effects_supp_within_dose",
)
ETA = "partial_eta2_ci_exact"
OMEGA = "partial_omega2"
TOST = tuple(
    f"{rows}/{margin}/{method}"
    for rows in ("balanced", "unbalanced")
    for margin in ("variety_delta_25", "nitrogen_delta_20", "nitrogen_delta_30")
    for method in ("kenward_roger", "satterthwaite")
)

# What each case keeps: paths into its results.
WANTED: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "01_plantgrowth": (
            "anova",
            "emmeans",
            "pairs_emmeans",
            f"effect_sizes_90/{ETA}",
            f"effect_sizes_90/{OMEGA}",
            "eta2_ci_by_hand_90",
            "emmeans_eff_size_model_sigma",
            "dunnett",
        ),
        "02_toothgrowth": TOOTH,
        "02b_toothgrowth_unbalanced": (
            *TOOTH,
            f"effect_sizes_type3_90/{ETA}",
            f"effect_sizes_type3_90/{OMEGA}",
        ),
        "03_warpbreaks": (
            "raw/type3",
            "raw/emmeans_wool",
            "raw/emmeans_tension",
            "raw/emmeans_cells/emmeans",
            "raw/tension_within_wool",
            f"raw/effect_sizes_90/{ETA}",
            "log/type3",
            "log/emmeans_cells_log_scale",
            "log/emmeans_cells_response",
            "log/tension_ratios",
            "log/tension_ratios_tukey",
        ),
        "04_npk": (
            "error_strata",
            "fixed_block_two_factor/type1",
            "fixed_block_two_factor/type2",
            "fixed_block_two_factor/type3",
            "fixed_block_two_factor/N",
            "fixed_block_two_factor/NP",
            "fixed_block_main/type2",
            "fixed_block_main/N",
            f"effect_sizes_90_two_factor/{ETA}",
            "random_block_full/variance_components",
            "random_block_full/anova/type3_kenward_roger",
            "random_block_full/emmeans_N",
        ),
        "05_oats_split_plot": ("error_strata", *OATS),
        "06_oats_unbalanced": OATS,
        "07a_machines": (*MIXED, "emmeans_Machine"),
        "07a2_machines_unbalanced": (*MIXED, "emmeans_Machine"),
        "07b_pastes": ("variance_components",),
        "07c_penicillin": ("variance_components",),
        "07d_sleepstudy": tuple(f"intercept_only/{key}" for key in MIXED),
        "08_rcbd_lost_cells": (
            *(f"random_team/{key}" for key in MIXED),
            "random_team/emmeans_treatment",
            "fixed_team/type2",
            "fixed_team/treatment",
        ),
        "08b_rcbd_boundary": (
            "random_team/variance_components",
            "random_team/emmeans_treatment",
            "fixed_team/type2",
            "fixed_team/treatment",
        ),
        "09_ancova": (
            "common_slope/type2",
            "common_slope/type3",
            "common_slope/adjusted_A",
            "common_slope/adjusted_B",
            "common_slope/adjusted_AB",
            f"common_slope/effect_sizes_type3_90/{ETA}",
        ),
        "10_orchardsprays": (
            "raw/anova",
            "raw/treatment",
            "log/anova",
            "log/treatment",
            *(f"random_rows_cols_raw/{key}" for key in MIXED),
            "random_rows_cols_raw/emmeans_treatment",
        ),
        "11_bibd": (
            "intra_block/type2",
            "intra_block/treatment",
            *(f"random_block/{key}" for key in MIXED),
            "random_block/emmeans_treatment",
        ),
        "12_bhh_reactor_2_5_1": ("grand_mean", "effects"),
        "12b_montgomery_2_5_1": ("grand_mean", "effects"),
        "13_three_strata": (*LESSONS, *LESSON_MEANS, *STRATA),
        "13b_three_strata_unbalanced": (*LESSONS, *LESSON_MEANS),
        "13c_three_strata_boundary": (
            "lesson_random/variance_components",
            "lesson_fixed/variance_components",
            *STRATA,
        ),
        "13d_three_strata_4_lessons_unbalanced": (*LESSONS, *LESSON_MEANS),
        "14_tost": TOST,
        "16c_permutation": (
            "small_two_group",
            "sleep_as_two_independent_groups",
            "sleep_blocked_by_subject",
            "darwin_blocked_by_pair",
            "oats_varieties_within_blocks",
            "three_groups_of_three",
        ),
    }
)


def pick(results: Mapping[str, Any], path: str) -> Any:
    """Walk ``path`` down into the results; KeyError if a step is missing."""
    here: Any = results
    for step in path.split("/"):
        here = here[step]
    return here


def put(results: dict[str, Any], path: str, value: object) -> None:
    """Set ``path`` in the results, making the steps on the way."""
    *steps, last = path.split("/")
    for step in steps:
        results = results.setdefault(step, {})
    results[last] = value


def factor_levels(case: Mapping[str, Any]) -> dict[str, list[str]]:
    """Return the factor columns of a case and their levels in R's order."""
    columns = case["columns"]
    return {
        name: about["levels"] for name, about in columns.items() if about.get("type") == "factor"
    }


def label(factors: Mapping[str, list[str]], levels: Mapping[str, str]) -> str:
    """Name a combination of levels as emmeans does: a number gets its factor's name before it."""

    def one(name: str) -> str:
        number = all(level.replace(".", "", 1).isdigit() for level in factors[name])
        return f"{name}{levels[name]}" if number else levels[name]

    return " ".join(one(name) for name in levels)


def combinations(factors: Mapping[str, list[str]], names: list[str]) -> Iterator[dict[str, str]]:
    """Yield every combination of the levels of the named factors, the first varying fastest."""
    if not names:
        yield {}
        return
    for rest in combinations(factors, names[1:]):
        for level in factors[names[0]]:
            yield {names[0]: level, **rest}


def split_contrast(
    row: Mapping[str, Any], factors: Mapping[str, list[str]], means: list[str]
) -> dict[str, Any]:
    """Replace R's name of a contrast by the levels on either side of it."""
    by = {name: row[name] for name in factors if name in row}
    free = [name for name in means if name not in by]
    named = {label(factors, levels): levels for levels in combinations(factors, free)}
    sign = " / " if "ratio" in row else " - "
    left, right = row["contrast"].split(sign)
    kept = {key: row[key] for key in PAIRS_KEEP if key in row}
    return {"a": {**named[left], **by}, "b": {**named[right], **by}, **kept}


def compared_factor(contrast: str, factors: Mapping[str, list[str]]) -> list[str]:
    """Return the one factor whose levels a contrast compares, where no means stand beside it."""
    left = contrast.split(maxsplit=1)[0]
    (name,) = (
        name
        for name in factors
        if left in (label(factors, {name: level}) for level in factors[name])
    )
    return [name]


def slim(value: Any, factors: Mapping[str, list[str]], means: list[str]) -> Any:
    """Shorten the records of a result: contrasts split, means and pairs cut to the fields used."""
    if isinstance(value, dict):
        inner = means
        if "emmeans" in value:
            inner = [name for name in value["emmeans"][0] if name in factors]
        return {key: slim(item, factors, inner) for key, item in value.items()}
    if not (isinstance(value, list) and value and isinstance(value[0], dict)):
        return value
    if "contrast" in value[0] and "effect.size" not in value[0] and "p_exact" not in value[0]:
        means = means or compared_factor(value[0]["contrast"], factors)
        return [split_contrast(row, factors, means) for row in value]
    if "emmean" in value[0] or "response" in value[0]:
        keep = (*factors, *MEANS_KEEP)
        return [{key: row[key] for key in row if key in keep} for row in value]
    return value


def text(value: Any, depth: int = 0) -> str:
    """Write JSON with one record a line, so that a change shows as a line."""
    pad = " " * (depth + 1)
    if isinstance(value, dict) and any(isinstance(item, dict | list) for item in value.values()):
        inner = [f"{pad}{json.dumps(key)}: {text(item, depth + 1)}" for key, item in value.items()]
        return "{\n" + ",\n".join(inner) + "\n" + " " * depth + "}"
    if isinstance(value, list) and value and isinstance(value[0], dict | str):
        return "[\n" + ",\n".join(pad + json.dumps(item) for item in value) + "\n" + pad[1:] + "]"
    return json.dumps(value, ensure_ascii=False)


def trim(full: Path, name: str) -> None:
    """Copy one case from ``full`` to this folder."""
    case = json.loads((full / f"{name}.json").read_text(encoding="utf-8"))
    factors = factor_levels(case)
    results: dict[str, Any] = {}
    for path in WANTED[name]:
        put(results, path, slim(pick(case["results"], path), factors, []))
    kept = {key: case[key] for key in ("case", "title", "source", "data", "columns", "notes")}
    data = [case["data"]] if isinstance(case["data"], str) else case["data"]
    for file in data:
        shutil.copyfile(full / file, HERE / file)
    (HERE / f"{name}.json").write_text(text({**kept, "results": results}) + "\n", encoding="utf-8")


def main() -> None:
    """Trim every case found in the folder named on the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("full", type=Path, help="folder that run_reference.R wrote to")
    full: Path = parser.parse_args().full
    for name in WANTED:
        trim(full, name)


if __name__ == "__main__":
    main()
