"""Every option changes what comes out, or is refused; and findings say how they were made."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import trials
from tests import unmoved
from trials import Factor, Findings, Options, Structure
from trials.analysis.findings import ResponseFindings
from trials.errors import AnalysisError, RequestError, TrialsError


def pots(seed: int = 3, lost: int = 5) -> pd.DataFrame:
    """Feed on the plant, light on the shelf; shelves in seven houses; some plants lost."""
    rng = np.random.default_rng(seed)
    rows = []
    for house in range(7):
        for shelf in range(2):
            shade = rng.normal(scale=1.0)
            for plant in range(3):
                height = 20 + 1.5 * shelf + 1.2 * plant + shade + rng.normal(scale=0.8)
                rows.append(
                    {
                        "house": f"h{house}",
                        "shelf": f"s{shelf}",
                        "light": "lamp" if shelf else "sun",
                        "feed": "abc"[plant],
                        "dose": ("1", "2", "8")[plant],
                        "start": f"{rng.normal(5, 1):.2f}",
                        "height": f"{height:.2f}",
                    }
                )
    return pd.DataFrame(rows).drop(index=list(range(2, 2 + 3 * lost, 3))).reset_index(drop=True)


STRUCTURE = Structure(["light", "feed"], ["house", "house/shelf"], {"light": "shelf"})


def found(frame: pd.DataFrame | None = None, /, **options: Any) -> ResponseFindings:
    settings = {"response": "height", "resamples": 0} | options
    chosen = Options.model_validate(settings)
    return unmoved.analyse_table(pots() if frame is None else frame, STRUCTURE, chosen).responses[0]


@cache
def plain() -> ResponseFindings:
    return found()


@pytest.mark.parametrize(
    ("option", "value"),
    [
        ("covariates", ("start",)),
        ("interactions", 1),
        ("compare", "ratio"),
        ("df", "satterthwaite"),
        ("sums", "I"),
        ("sums", "II"),
        ("weights", "proportional"),
        ("better", "low"),
        ("control", (("feed", "b"),)),
        ("worthwhile", 2.0),
        ("confidence", 0.9),
        ("resamples", 99),
    ],
)
def test_every_option_changes_the_findings(option: str, value: object) -> None:
    assert found(**{option: value}) != plain()


def test_bounded_changes_a_fit_at_the_boundary() -> None:
    frame = pots(seed=8)
    frame["height"] = [f"{x:.2f}" for x in np.random.default_rng(20).normal(10, 1, len(frame))]
    free, bounded = found(frame), found(frame, bounded=True)
    assert any(c.at_boundary for c in free.variance_components)
    assert free.effects != bounded.effects
    assert all((c.unbounded or 0) >= 0 for c in bounded.variance_components)


def test_random_makes_few_houses_random() -> None:
    frame = pots()
    frame = frame[frame["house"].isin(["h0", "h1", "h2", "h3"])]
    few = found(frame)
    assert "fixed_group:house" in few.method.notes
    assert "house" not in {c.group for c in few.variance_components}
    assert "house" in {c.group for c in found(frame, random=("house",)).variance_components}
    assert "house" in {c.group for c in found(frame, random=("all",)).variance_components}


def test_item_takes_rows_as_readings() -> None:
    frame = pots(lost=0)
    twice = pd.concat([frame, frame]).reset_index(drop=True)
    twice["plant"] = [f"p{i % len(frame)}" for i in range(len(twice))]
    noise = np.random.default_rng(2).normal(scale=0.05, size=len(twice))
    heights = [f"{float(h) + e:.3f}" for h, e in zip(twice["height"], noise, strict=True)]
    twice["height"] = heights
    naive, honest = found(twice), found(twice, item="plant")
    assert (honest.n_items, honest.n_readings) == (42, 84)
    wrong, right = (next(e for e in r.effects if e.term == "feed") for r in (naive, honest))
    assert right.den_df == pytest.approx(24)
    assert wrong.den_df is not None
    assert wrong.den_df > 60


def test_strata_are_refused_where_they_do_not_exist() -> None:
    with pytest.raises(AnalysisError, match="not orthogonal"):
        found(df="strata")


def test_seed_changes_only_the_shuffle() -> None:
    first, again, other = (
        unmoved.analyse_table(
            pots(), STRUCTURE, Options(response="height", resamples=199, seed=seed)
        ).responses[0]
        for seed in (1, 1, 2)
    )
    assert first == again
    assert [e.p for e in first.effects] == [e.p for e in other.effects]
    assert [e.p_permutation for e in first.effects] != [e.p_permutation for e in other.effects]


def test_the_response_is_the_only_column_left() -> None:
    frame = pots()[["house", "shelf", "light", "feed", "height"]]
    result = trials.analyse_table(frame, STRUCTURE, Options(resamples=0))
    assert result.responses[0].name == "height"
    with pytest.raises(RequestError, match="isn't clear which column"):
        trials.analyse_table(pots(), STRUCTURE, Options(resamples=0))


def test_one_factor_equals_the_textbook() -> None:
    """Against scipy's one-way analysis and Student's t."""
    values = {"a": [1.0, 2.5, 3.1, 2.2], "b": [4.0, 3.6, 5.1], "c": [9.0, 7.5, 8.0, 8.2, 7.9]}
    frame = pd.DataFrame([(k, repr(v)) for k, vs in values.items() for v in vs], columns=["f", "y"])
    result = trials.analyse_table(frame, Structure(["f"]), Options(resamples=0)).responses[0]
    wanted = stats.f_oneway(*values.values())
    assert result.effects[0].f == pytest.approx(wanted.statistic, rel=1e-12)
    assert result.effects[0].p == pytest.approx(wanted.pvalue, rel=1e-10)
    tukey = stats.tukey_hsd(*values.values())
    for pair in result.comparisons:
        i, j = ("abc".index(side["f"]) for side in (pair.a, pair.b))
        assert pair.p_adjusted == pytest.approx(tukey.pvalue[i, j], rel=1e-5)
        low = np.asarray(tukey.confidence_interval().low)[i, j]
        assert pair.interval_adjusted[0] == pytest.approx(low, rel=1e-5)


def test_dunnett_with_unequal_numbers_equals_scipy() -> None:
    rng = np.random.default_rng(4)
    groups = {"control": rng.normal(0, 1, 5), "x": rng.normal(1, 1, 7), "y": rng.normal(2, 1, 6)}
    frame = pd.DataFrame(
        [(k, repr(float(v))) for k, vs in groups.items() for v in vs], columns=["f", "y"]
    )
    options = Options(resamples=0, control=(("f", "control"),))
    result = trials.analyse_table(frame, Structure(["f"]), options).responses[0]
    chance = np.random.default_rng(1)  # scipy integrates by chance
    wanted = stats.dunnett(groups["x"], groups["y"], control=groups["control"], rng=chance)
    assert [c.b["f"] for c in result.comparisons] == ["control", "control"]
    for pair, p in zip(result.comparisons, wanted.pvalue, strict=True):
        assert pair.adjustment == "dunnett"
        assert pair.p_adjusted == pytest.approx(float(p), abs=2e-4)


def test_a_quantity_as_trend_uses_its_actual_values() -> None:
    """The slope equals a regression on 1, 2, 8, not on 1, 2, 3."""
    frame = pots(lost=0)
    structure = Structure([Factor("dose", "quantity", trend=True)])
    options = Options(resamples=0, response="height")
    result = trials.analyse_table(frame, structure, options).responses[0]
    line = stats.linregress(frame["dose"].astype(float), frame["height"].astype(float))
    assert result.effects[0].num_df == 1
    assert result.effects[0].p == pytest.approx(line.pvalue, rel=1e-9)
    gap = next(c for c in result.comparisons if (c.a["dose"], c.b["dose"]) == ("1", "8"))
    assert gap.difference == pytest.approx(-7 * line.slope, rel=1e-9)


def test_ratios_are_geometric() -> None:
    frame = pd.DataFrame({"f": list("aabb"), "y": ["1", "4", "10", "40"]})
    options = Options(resamples=0, compare="ratio")
    result = trials.analyse_table(frame, Structure(["f"]), options).responses[0]
    assert [m.mean for m in result.means] == pytest.approx([2.0, 20.0])
    pair = result.comparisons[0]
    assert pair.difference is None
    assert pair.ratio == pytest.approx(0.1)


def test_no_margin_no_verdict_and_a_note() -> None:
    assert plain().verdicts == ()
    assert "no_worthwhile" in plain().method.notes
    assert [v.factor for v in found(worthwhile=1.0).verdicts] == ["light", "feed"]


def test_findings_survive_their_file_form() -> None:
    result = trials.analyse_table(
        pots(), STRUCTURE, Options(response="height", resamples=99, worthwhile=1.0)
    )
    assert Findings.model_validate_json(result.model_dump_json()) == result
    assert Findings.model_validate(result.to_dict()) == result


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"height": "7"}, "model.constant"),
        ({"height": "inf"}, ""),
        ({"height": "tall"}, ""),
        ({"light": ""}, "table.label_empty"),
    ],
)
def test_bad_tables_are_refused_in_words(change: dict[str, str], code: str) -> None:
    frame = pots()
    for column, value in change.items():
        frame[column] = value
    with pytest.raises(TrialsError) as caught:
        found(frame)
    assert not code or caught.value.code == code
    assert caught.value.do


def test_a_factor_without_replication_gets_estimates_and_no_p() -> None:
    """Two ovens, one for each version: the items inside tell nothing of what the oven does."""
    rows = [
        {"oven": oven, "heat": heat, "y": f"{value}"}
        for oven, heat, values in (("1", "hot", (5, 6, 5.5)), ("2", "cold", (3, 3.2, 2.9)))
        for value in values
    ]
    structure = Structure(["heat"], ["oven"], {"heat": "oven"})
    options = Options(resamples=0, worthwhile=0.5)
    result = trials.analyse_table(pd.DataFrame(rows), structure, options).responses[0]
    effect, pair = result.effects[0], result.comparisons[0]
    assert (effect.f, effect.p, effect.den_df) == (None, None, None)
    assert "no_replication" in effect.notes
    assert (pair.p, pair.interval) == (None, (None, None))
    assert pair.difference == pytest.approx(-2.4667, abs=1e-3)
    assert [(v.verdict, v.reason) for v in result.verdicts] == [("not settled", "no_replication")]


def test_an_empty_combination_leaves_the_rest_told() -> None:
    frame = pots(lost=0)
    frame = frame[~((frame["light"] == "sun") & (frame["feed"] == "c"))]
    result = found(frame)
    terms = {e.term: e for e in result.effects}
    assert terms["light:feed"].num_df == 1
    assert result.not_estimable == ("light:feed: 1 of 2",)
    pair = next(c for c in result.comparisons if c.term == "light" and set(c.a) == {"light"})
    assert any(note.startswith("averaged_over:") for note in pair.notes)
    missing = next(m for m in result.means if m.levels == {"light": "sun", "feed": "c"})
    assert (missing.mean, missing.n) == (None, 0)


def test_readings_without_any_spread_are_told_as_such() -> None:
    frame = pd.DataFrame({"f": list("aabb"), "y": ["1", "1", "2", "2"]})
    options = Options(resamples=99, worthwhile=0.5)
    result = trials.analyse_table(frame, Structure(["f"]), options).responses[0]
    assert [v.reason for v in result.verdicts] == ["no_variation"]
    assert "read exactly the same" in result.verdicts[0].sentence
    assert "no_variation" in result.comparisons[0].notes
    assert (result.effects[0].f, result.effects[0].p) == (None, None)


def test_no_shuffle_for_what_was_not_repeated() -> None:
    table = {"oven": list("1122"), "heat": list("aabb"), "y": list("5632")}
    options = Options(resamples=99)
    structure = Structure(["heat"], ["oven"], {"heat": "oven"})
    result = trials.analyse_table(pd.DataFrame(table), structure, options).responses[0]
    assert result.effects[0].p_permutation is None


def test_versions_that_never_met_are_not_called_alike() -> None:
    """Level z shares no combination with x or y: nothing is said of it, whatever x and y show."""
    rng = np.random.default_rng(2)
    rows = [
        {"a": a, "b": b, "y": f"{50 * (a == 'z') + rng.normal(scale=0.1):.3f}"}
        for a, b in [("x", "p"), ("x", "q"), ("y", "p"), ("y", "q"), ("z", "r")]
        for _ in range(6)
    ]
    options = Options(resamples=0, worthwhile=1.0)
    result = trials.analyse_table(pd.DataFrame(rows), Structure(["a", "b"]), options).responses[0]
    verdict = next(v for v in result.verdicts if v.factor == "a")
    assert (verdict.verdict, verdict.reason) == ("not settled", "not_compared")
    assert "never met" in verdict.sentence


def test_a_control_does_not_hide_the_others() -> None:
    """Two versions far apart on either side of the control still make the factor matter."""
    rng = np.random.default_rng(5)
    rows = [
        {"a": a, "y": f"{mean + rng.normal(scale=0.05):.3f}"}
        for a, mean in (("l", -0.9), ("m", 0.0), ("h", 0.9))
        for _ in range(8)
    ]
    options = Options(resamples=0, worthwhile=1.0, control=(("a", "m"),))
    result = trials.analyse_table(pd.DataFrame(rows), Structure(["a"]), options).responses[0]
    assert [v.verdict for v in result.verdicts] == ["mattered"]
    assert len(result.comparisons) == 2


@pytest.mark.parametrize(
    "options",
    [{"worthwhile": -1.0}, {"worthwhile": 0.0}, {"worthwhile": 1.0, "compare": "ratio"}],
)
def test_margins_that_cannot_be_are_refused(options: dict[str, Any]) -> None:
    with pytest.raises(RequestError, match="can't be that"):
        found(**options)


def test_one_column_in_two_roles_is_refused() -> None:
    with pytest.raises(RequestError, match="something else as well"):
        trials.analyse_table(pots(), Structure(["height"]), Options(response="height"))


def test_a_factor_that_changes_within_an_item_is_refused() -> None:
    frame = pots()
    frame["plant"] = "p1"
    with pytest.raises(AnalysisError, match="between the readings of one item"):
        found(frame, item="plant")
