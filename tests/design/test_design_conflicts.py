"""The fewest demands that can't all hold, against trying every set of them."""

from __future__ import annotations

from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st

from trials.design.conflicts import Conflict, smallest_conflict

COUNT = 8
clashes = st.lists(st.frozensets(st.integers(0, COUNT - 1), min_size=1), max_size=8)


def holds(clashing: list[frozenset[int]], kept: frozenset[int]) -> bool:
    return not any(clash <= kept for clash in clashing)


def fewest(clashing: list[frozenset[int]]) -> int | None:
    """Return the size of a smallest set that doesn't hold, by trying all."""
    for size in range(COUNT + 1):
        for some in combinations(range(COUNT), size):
            if not holds(clashing, frozenset(some)):
                return size
    return None


@given(clashes)
@settings(derandomize=True, max_examples=300, deadline=None)
def test_no_smaller_set_contradicts_itself(clashing: list[frozenset[int]]) -> None:
    found = smallest_conflict(COUNT, lambda kept: holds(clashing, kept))
    least = fewest(clashing)
    assert (found is None) == (least is None)
    if found is not None:
        assert found.smallest
        assert len(found.demands) == least
        assert not holds(clashing, frozenset(found.demands))


@given(clashes, st.integers(0, 12))
@settings(derandomize=True, max_examples=200, deadline=None)
def test_with_few_tests_it_is_a_contradiction_all_the_same_and_claims_no_more(
    clashing: list[frozenset[int]], most: int
) -> None:
    found = smallest_conflict(COUNT, lambda kept: holds(clashing, kept), most)
    if found is None:
        assert fewest(clashing) is None
        return
    assert not holds(clashing, frozenset(found.demands))
    if found.smallest:
        assert len(found.demands) == fewest(clashing)


def test_each_question_is_asked_once() -> None:
    asked: list[frozenset[int]] = []

    def answer(kept: frozenset[int]) -> bool:
        asked.append(kept)
        return not kept >= {0, 1, 2} and not kept >= {5, 6}

    assert smallest_conflict(COUNT, answer) == Conflict((5, 6), smallest=True)
    assert len(asked) - len(set(asked)) <= 1  # all of them, before the tests are counted
