"""What a plan without random groups can tell: exact F tests, down to the last degree of freedom."""

from __future__ import annotations

import numpy as np
import pytest

from trials.model import FitOptions, Structure, fit_rows, make_layout, precision, skeleton

# One-way analysis of variance: N - a degrees of freedom in the denominator (any textbook, such as
# D. C. Montgomery, Design and Analysis of Experiments, ch. 3). Kenward-Roger's formulas need more
# than four of them where the numerator has several, so they must not be asked here.


@pytest.mark.parametrize(
    ("sizes", "left"), [((2, 1, 1), 1), ((2, 2, 1), 2), ((2, 2, 2), 3), ((3, 3, 3), 6)]
)
def test_a_plain_comparison_of_three_keeps_its_few_degrees_of_freedom(
    sizes: tuple[int, ...], left: int
) -> None:
    labels = [level for level, size in zip("xyz", sizes, strict=True) for _ in range(size)]
    layout = make_layout(Structure(["feed"]), {"feed": labels})
    (line, rest) = skeleton(layout)
    assert (line.tested_by, line.den_df, rest.df) == ("residual", left, left)
    known = precision(layout, {"residual": 4.0})
    assert known.term("feed").den_df == left
    y = np.array([1.0, 3.0, 2.0, 5.0, 4.0, 7.0, 6.0, 9.0, 8.0])[: len(labels)]
    (test,) = fit_rows(layout, y, FitOptions()).tests
    assert test.result.den_df == left


def test_the_standard_error_of_a_difference_is_that_of_two_averages() -> None:
    layout = make_layout(Structure(["feed"]), {"feed": list("xxxyy")})
    pair = precision(layout, {"residual": 4.0}).pair("feed", 0, 1)
    assert pair.se == pytest.approx((4 / 3 + 4 / 2) ** 0.5)
    assert pair.df == 3
