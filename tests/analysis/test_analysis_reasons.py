"""What can't be told has its reason: no repeats, nothing left over, one version, tied."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

import trials
from trials import Options, Structure
from trials.analysis.findings import ResponseFindings


def analysed(rows: list[dict[str, Any]], structure: Structure, **options: Any) -> ResponseFindings:
    frame = pd.DataFrame(rows).astype(str)
    settings = Options.model_validate({"resamples": 0, "response": "y", **options})
    return trials.analyse_table(frame, structure, settings).responses[0]


def split_plots(ovens: int) -> list[dict[str, Any]]:
    """Heat is the oven's, dye the item's; ``ovens`` for each heat, four items in each."""
    rng = np.random.default_rng(5)
    return [
        {
            "oven": f"{heat}{oven}",
            "heat": heat,
            "dye": dye,
            "y": round(5.0 * (heat == "hot") + 2.0 * (dye == "a") + rng.normal(), 3),
        }
        for heat in ("hot", "cold")
        for oven in range(ovens)
        for dye in ("a", "b", "a", "b")
    ]


OVENS = Structure(["heat", "dye"], ["oven"], {"heat": "oven"})


def test_no_share_and_no_rank_for_what_was_not_repeated() -> None:
    """One oven for each heat: what heat did and what the ovens did are one number."""
    once, twice = (analysed(split_plots(n), OVENS) for n in (1, 2))
    heat, dye, both = once.effects
    assert heat.share_of_variance is None
    assert {"no_replication", "no_share"} <= set(heat.notes)
    assert dye.share_of_variance is not None
    assert 0 < dye.share_of_variance < 1
    assert "no_share" not in (*dye.notes, *both.notes)
    assert "rank_frequencies" not in once.diagnostics
    assert twice.effects[0].share_of_variance is not None
    assert set(twice.diagnostics["rank_frequencies"]) == {"heat", "dye"}


def test_ranks_leave_out_one_of_three() -> None:
    rows = [row | {"soak": "sl"[i // 2 % 2]} for i, row in enumerate(split_plots(1) * 2)]
    structure = Structure(["heat", "dye", "soak"], ["oven"], {"heat": "oven"})
    found = analysed(rows, structure, interactions=1)
    assert set(found.diagnostics["rank_frequencies"]) == {"dye", "soak"}
    assert "not_ranked:heat" in found.diagnostics["notes"]


def test_shares_count_what_is_mixed_up_as_part_of_the_whole() -> None:
    """By hand: heat and oven together, dye, their interaction and the residual make the whole."""
    found = analysed(split_plots(1), OVENS)
    frame = pd.DataFrame(split_plots(1))
    cells = frame.groupby(["heat", "dye"])["y"].mean().unstack()
    residual = frame.groupby(["heat", "dye"])["y"].var().mean()
    each = residual / 8  # of a mean of level effects: sigma^2 / n for one df at two levels
    heat = float(np.var(cells.mean(axis=1)))
    dye = float(np.var(cells.mean(axis=0))) - each
    both = (
        float(
            np.var(
                cells.to_numpy()
                - cells.mean(axis=1).to_numpy()[:, None]
                - cells.mean(axis=0).to_numpy()[None, :]
            )
        )
        - each
    )
    whole = heat + max(dye, 0.0) + max(both, 0.0) + residual
    assert found.effects[1].share_of_variance == pytest.approx(dye / whole)


def test_a_used_up_table_is_not_told_that_it_has_no_repeats() -> None:
    rows = [{"a": a, "b": b, "y": y} for a, b, y in zip("xxzz", "pqpq", (1, 2, 4, 9), strict=True)]
    found = analysed(rows, Structure(["a", "b"]), worthwhile=1.0)
    assert {v.reason for v in found.verdicts} == {"no_residual_df"}
    assert all("repeats" not in v.sentence for v in found.verdicts)
    assert "left over to judge chance by" in found.verdicts[0].sentence
    assert [e.notes[0] for e in found.effects] == ["no_residual_df"] * 2 + ["no_replication"]
    assert "no_residual_df" in found.comparisons[0].notes


def test_one_item_of_each_version_has_no_repeats() -> None:
    rows = [{"a": a, "y": y} for a, y in zip("xyz", (1, 2, 4), strict=True)]
    found = analysed(rows, Structure(["a"]), worthwhile=1.0)
    assert [v.reason for v in found.verdicts] == ["no_replication"]


def test_items_used_up_within_firings_that_were_repeated() -> None:
    """Two ovens a heat, one item of each dye in each: with the interaction no item is free."""
    rows = [row for i, row in enumerate(split_plots(2)) if i % 4 < 2]
    structure = Structure(["heat", "dye"], ["oven"], {"heat": "oven"})
    more = [row | {"soak": "sl"[(i // 2 + i) % 2]} for i, row in enumerate(rows)]
    assert all(e.f is not None for e in analysed(rows, structure).effects)
    three = Structure(["heat", "dye", "soak"], ["oven"], {"heat": "oven"})
    found = analysed(more, three, worthwhile=1.0)
    reasons = {v.factor: v.reason for v in found.verdicts}
    assert reasons["dye"] == "no_residual_df"
    assert reasons["heat"] != "no_residual_df"


def test_one_version_only_is_told() -> None:
    rows = [{"a": a, "b": "only", "y": y} for a, y in zip("xxzz", (1, 2, 4, 9), strict=True)]
    found = analysed(rows, Structure(["a", "b"]), worthwhile=1.0)
    assert {v.factor: v.reason for v in found.verdicts}["b"] == "one_level"
    assert "b" in found.not_estimable


def test_a_covariate_that_is_the_factor_is_named() -> None:
    rows = [
        {"a": a, "thick": thick, "y": y}
        for a, thick, y in zip("xxzz", (1, 1, 2, 2), (1, 2, 4, 9), strict=True)
    ]
    found = analysed(rows, Structure(["a"]), worthwhile=1.0, covariates=("thick",))
    assert [v.reason for v in found.verdicts] == ["tied"]
    assert "together with thick" in found.verdicts[0].sentence
    assert "not_estimable" in found.comparisons[0].notes


@pytest.mark.parametrize("kind", [{}, {"df": "satterthwaite"}, {"bounded": True}])
def test_no_spread_among_random_groups_either(kind: dict[str, Any]) -> None:
    """Unequal groups, so by REML: readings that repeat exactly give no F of any size."""
    rows = [{"a": "xz"[i % 2], "g": i // 4, "y": 1 + i % 2} for i in range(17)]
    found = analysed(rows, Structure(["a"], ["g"]), worthwhile=0.1, random=("g",), **kind)
    assert found.method.estimator == "reml"
    assert (found.effects[0].f, found.effects[0].p) == (None, None)
    assert [v.reason for v in found.verdicts] == ["no_variation"]


def alike_firings(sizes: tuple[int, ...]) -> ResponseFindings:
    """Return firings that came out more alike than their items, which lie 3 above and below."""
    rng = np.random.default_rng(0)
    rows = [
        {"heat": "xz"[f % 2], "firing": f, "y": 3.0 * (-1) ** i + 0.1 * rng.normal()}
        for f, size in enumerate(sizes)
        for i in range(size)
    ]
    return analysed(rows, Structure(["heat"], ["firing"], {"heat": "firing"}), worthwhile=0.1)


def test_a_yardstick_that_is_hardly_known_is_told_as_that() -> None:
    """A spread of firings so far below zero that it is known to no magnitude."""
    found = alike_firings((3, 3, 4, 4))
    (effect,) = found.effects
    assert (effect.f, effect.p, effect.share_of_variance) == (None, None, None)
    assert {"error_unsure", "no_share"} <= set(effect.notes)
    assert "error_unsure" in found.comparisons[0].notes
    assert [v.reason for v in found.verdicts] == ["error_unsure"]
    assert "too little of how far chance alone reaches" in found.verdicts[0].sentence


def test_no_comparison_is_free_of_error_because_two_firings_agree() -> None:
    """The criterion has no top: firings of 6 would have means without error. They are held."""
    found = alike_firings((6, 4, 5, 6))
    assert "held_at_zero:firing" in found.method.notes
    assert "not_converged" not in found.method.notes
    (pair,) = found.comparisons
    assert pair.se is not None
    assert pair.se > 3.0 * np.sqrt(1 / 11 + 1 / 10)  # that of two means of so many items
