"""A p by shuffling stands only beside a test that asks the same; what it takes as given is told."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

import trials
from trials import Options, Structure
from trials.analysis.findings import ResponseFindings


def analysed(lost: tuple[int, ...] = (), **options: Any) -> ResponseFindings:
    rng = np.random.default_rng(7)
    rows = [
        {"a": a, "b": b, "y": f"{rng.normal() + 2 * (a == 'x'):.3f}"}
        for a in "xz"
        for b in "pqr"
        for _ in range(4)
    ]
    frame = pd.DataFrame(rows).drop(index=list(lost)).reset_index(drop=True)
    settings = Options.model_validate({"response": "y", "resamples": 199, **options})
    return trials.analyse_table(frame, Structure(["a", "b"]), settings).responses[0]


OTHERWISE = "shuffle_asks_otherwise"


@pytest.mark.parametrize("sums", ["II", "I"])
def test_all_types_ask_the_same_of_a_balanced_table(sums: str) -> None:
    usual, other = analysed(), analysed(sums=sums)
    assert [e.p_permutation for e in usual.effects] == [e.p_permutation for e in other.effects]
    assert None not in [e.p_permutation for e in other.effects]


@pytest.mark.parametrize(("sums", "told"), [("III", 3), ("II", 1), ("I", 1)])
def test_with_unequal_numbers_only_the_same_question_has_a_p(sums: str, told: int) -> None:
    """Main effects of type II and I weigh by numbers; the highest interaction is one for all."""
    found = analysed((0, 1, 5, 9), sums=sums)
    known = [e.term for e in found.effects if e.p_permutation is not None]
    assert len(known) == told
    assert "a:b" in known
    for effect in found.effects:
        assert (OTHERWISE in effect.notes) == (effect.p_permutation is None)
        assert not (effect.p_permutation is None and effect.exact)


def test_empty_combinations_say_why_there_is_no_shuffle() -> None:
    found = analysed((0, 1, 2, 3))
    for effect in found.effects:
        assert effect.p_permutation is None
        assert {OTHERWISE, "no_shuffle"} & set(effect.notes)


def test_what_a_permutation_takes_as_given_is_told() -> None:
    assert "permutation_takes_units_as_alike" in analysed().method.notes
    assert "permutation_takes_units_as_alike" not in analysed(resamples=0).method.notes
