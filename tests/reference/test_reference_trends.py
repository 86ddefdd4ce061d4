"""Trends against R's polynomial contrasts (R 4.2.2, emmeans 1.8.4.1, pbkrtest 0.5.2).

Oats: Yates (1935), in the reference folder. ToothGrowth: C. I. Bliss (1952), The Statistics of
Bioassay; there the doses 0.5, 1 and 2 are equal steps on the log scale.
"""

from __future__ import annotations

import pandas as pd
import pytest

from tests.unmoved import analyse_table
from trials import Factor, Structure
from trials.analysis.findings import ResponseFindings, Trend

from .support import R, options, read_table

# contrast(emmeans(m, ~ N), "poly"), integer coefficients (-3, -1, 1, 3), (1, -1, -1, 1), (-1, 3,
# -3, 1) on steps of 0.2 cwt; Kenward-Roger. A coefficient per step is estimate / 10, / 4.
OATS_LINEAR = (147.333333333333, 14.0270901921536, 45, 10.5034851359085, 1.09137996240833e-13)
OATS_BEND = (-10.3333333333333, 6.27310543923519, 45, -1.64724368710645, 0.106474498384339)
OATS_CUBIC_T, OATS_CUBIC_P = -0.142581246188806, 0.887257408602963

# contrast(emmeans(m, ~ supp * dose), interaction = c("pairwise", "poly")), unbalanced: OJ - VC of
# (-1, 0, 1), that is of twice the slope per doubling.
TOOTH_SLOPES = -5.67777777777778


def _oats() -> ResponseFindings:
    frame = read_table(R / "05_oats_split_plot.csv")
    frame["N"] = frame["N"].str.removesuffix("cwt")
    structure = Structure([Factor("N", "quantity"), "V"], ["B", "B/V"], {"V": "B/V"})
    return analyse_table(frame, structure, options("Y")).responses[0]


def _of(found: ResponseFindings, term: str, degree: int, **levels: str) -> Trend:
    (one,) = [t for t in found.trends if (t.term, t.degree, t.levels) == (term, degree, levels)]
    return one


@pytest.mark.parametrize(
    ("degree", "row", "size"), [(1, OATS_LINEAR, 10 * 0.2), (2, OATS_BEND, 4 * 0.2**2)]
)
def test_oats(degree: int, row: tuple[float, ...], size: float) -> None:
    estimate, se, df, t, p = row
    one = _of(_oats(), "N", degree)
    assert one.slope == pytest.approx(estimate / size, rel=1e-9)
    assert one.se == pytest.approx(se / size, rel=1e-6)
    assert one.df == pytest.approx(df, rel=1e-6)
    assert one.t == pytest.approx(t, rel=1e-6)
    assert one.p == pytest.approx(p, rel=1e-5)


def test_what_the_bend_leaves_of_oats_is_the_cubic() -> None:
    left = _of(_oats(), "N", 2).lack_of_fit
    assert left is not None
    assert left.num_df == 1
    assert left.f == pytest.approx(OATS_CUBIC_T**2, rel=1e-6)
    assert left.p == pytest.approx(OATS_CUBIC_P, rel=1e-6)
    whole = _of(_oats(), "N", 1).lack_of_fit
    assert whole is not None
    assert whole.f == pytest.approx((OATS_BEND[3] ** 2 + OATS_CUBIC_T**2) / 2, rel=1e-6)


def test_slopes_per_doubling_within_another_factor() -> None:
    frame = read_table(R / "02b_toothgrowth_unbalanced.csv")
    structure = Structure([Factor("dose", "quantity", scale="log"), "supp"])
    found = analyse_table(pd.DataFrame(frame), structure, options("len")).responses[0]
    slopes = [_of(found, "dose", 1, supp=supp).slope for supp in ("OJ", "VC")]
    assert None not in slopes
    assert (slopes[0] or 0) - (slopes[1] or 0) == pytest.approx(TOOTH_SLOPES / 2, rel=1e-9)
    assert {one.scale for one in found.trends} == {"log"}
