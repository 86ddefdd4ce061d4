"""Tables of Plackett and Burman, against the paper and another library's."""

from __future__ import annotations

from collections import Counter
from itertools import combinations

import numpy as np
import pytest

from trials.design.families import screening
from trials.design.families.screening import SIZES, Screening

# R. L. Plackett and J. P. Burman, 1946, Biometrika 33, 305-325: the rows that are moved on.
FIRST_ROWS = {
    12: "++-+++---+-",
    20: "++--++++-+-+----++-",
    24: "+++++-+-++--++--+-+----",
}


def whole(runs: int) -> Screening:
    found = screening([f"f{place}" for place in range(runs - 1)], runs)
    assert found is not None
    return found


@pytest.mark.parametrize(("runs", "row"), FIRST_ROWS.items())
def test_first_rows_are_those_of_the_paper(runs: int, row: str) -> None:
    codes = whole(runs).codes
    assert "".join("-+"[code] for code in codes[0]) == row
    assert not codes[-1].any()
    assert (codes[1] == np.roll(codes[0], 1)).all()


@pytest.mark.parametrize("runs", SIZES)
def test_every_size_is_a_matrix_of_hadamard(runs: int) -> None:
    signs = np.hstack([np.ones((runs, 1), dtype=int), 2 * whole(runs).codes - 1])
    assert (signs.T @ signs == runs * np.eye(runs)).all()


def overlaps(signs: np.ndarray) -> Counter[int]:
    return Counter(
        abs(int((signs[:, a] * signs[:, b] * signs[:, c]).sum()))
        for a, b, c in combinations(range(signs.shape[1]), 3)
    )


@pytest.mark.parametrize("runs", [12, 20])
def test_triples_overlap_as_in_another_librarys_tables(runs: int) -> None:
    from pyDOE3 import pbdesign  # type: ignore[import-untyped]  # it ships no types

    other = np.rint(np.asarray(pbdesign(runs - 1))).astype(int)
    assert other.shape == (runs, runs - 1)
    assert overlaps(2 * whole(runs).codes - 1) == overlaps(other)


def test_no_factor_is_a_pair_in_24_runs() -> None:
    # pyDOE3 1.6 doubles the table of 12 runs instead, where 11 triples are wholly mixed up
    assert set(overlaps(2 * whole(24).codes - 1)) == {0, 8}


def test_partial_mixing_is_told() -> None:
    found = screening(("a", "b", "c", "d", "e"))
    assert found is not None
    # in 12 runs every pair falls by a third on every other factor (M. Hamada and C. F. J. Wu, 1992,
    # J. Qual. Technol. 24, 130-137)
    assert found.runs == 12
    assert found.share == pytest.approx(1 / 3)
    assert len(found.gives_up) == 10
    assert whole(12).share == pytest.approx(1 / 3)


def test_sizes_that_do_not_exist() -> None:
    assert screening(("a", "b"), 16) is None  # a fraction
    assert screening([str(n) for n in range(12)], 12) is None  # no room
    assert screening([str(n) for n in range(48)]) is None
    small = screening([str(n) for n in range(24)])
    assert small is not None
    assert small.runs == 28
