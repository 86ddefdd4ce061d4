"""What a plan is called, judged by what it is; and which families fit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trials.design.draw import draw
from trials.design.factorials import Codes, full_factorial
from trials.design.families import (
    Family,
    Offer,
    Wanted,
    confounded,
    control_counts,
    fraction,
    incomplete_blocks,
    latin_squares,
    offer,
    plan_family,
    screening,
)
from trials.design.families.fractions import numeral
from trials.design.families.recognise import recognise
from trials.design.families.seen import Seen
from trials.design.values import Plan
from trials.study import Limits, Response, Study, StudyFactor, StudyGroup
from trials.words.forbidden import find_forbidden


def named(
    table: Codes | Sequence[Sequence[int]],
    *,
    groups: Mapping[str, Codes] | None = None,
    sites: Mapping[str, str] | None = None,
    above: Mapping[str, tuple[str, ...]] | None = None,
    control: Mapping[str, int] | None = None,
) -> Family:
    """Name a table of level codes, rows and level names shuffled: neither may matter."""
    codes = np.asarray(table, dtype=np.intp)
    rng = np.random.default_rng(len(codes))
    order = rng.permutation(len(codes))
    names = "abcdefghijklmnop"[: codes.shape[1]]
    levels = {name: int(codes[:, place].max()) + 1 for place, name in enumerate(names)}
    columns = {}
    for place, name in enumerate(names):
        renamed = np.arange(levels[name]) if control else rng.permutation(levels[name])
        columns[name] = renamed[codes[order, place]]
    return recognise(
        Seen(
            levels,
            columns,
            sites=sites or {},
            groups={g: np.asarray(c)[order] for g, c in (groups or {}).items()},
            above=above or {},
            control=control or {},
        )
    )


def single(versions: int, times: int = 1) -> Codes:
    return np.tile(np.arange(versions, dtype=np.intp), times)[:, None]


def test_completely_randomised_and_full_factorial() -> None:
    family = named(single(3, 4))
    assert (family.name, family.gives_up, family.notes) == ("completely_randomised", (), ())
    whole = named(np.tile(full_factorial([2, 3]), (2, 1)))
    assert whole.name == "full_factorial"
    assert whole.textbook == "full factorial 2 x 3, completely randomised"
    assert named(np.vstack([full_factorial([2, 3]), [[0, 0]]])).name == "full_factorial"  # one more


def test_groups_of_one_item_and_one_group_of_all_are_no_blocks() -> None:
    alone = {"pot": np.arange(6), "shed": np.zeros(6, dtype=np.intp)}
    assert named(single(3, 2), groups=alone).name == "completely_randomised"


def test_randomised_blocks() -> None:
    family = named(single(3, 4), groups={"oven": np.repeat(np.arange(4), 3)})
    assert (family.name, family.groups) == ("randomised_blocks", ("oven",))
    assert family.textbook == "randomised complete block design (oven)"
    # blocks of different sizes that hold all in the same proportions
    uneven = named(single(2, 5), groups={"day": np.array([0] * 4 + [1] * 6)})
    assert uneven.name == "randomised_blocks"
    broken = named(single(3, 4), groups={"oven": np.repeat(np.arange(3), 4)})
    assert broken.name == "searched"
    assert broken.incomplete


@pytest.mark.parametrize("versions", [3, 4, 5, 6])
def test_latin_squares(versions: int) -> None:
    codes = latin_squares(versions, np.random.default_rng(2)).codes
    groups = {"day": codes[:, 1], "place": codes[:, 2]}
    family = named(codes[:, 3:], groups=groups)
    assert (family.name, family.groups) == ("latin_square", ("day", "place"))
    assert named(codes[:, 3:], groups={"day": codes[:, 1]}).name == "randomised_blocks"


def test_several_squares_with_rows_of_their_own() -> None:
    codes = latin_squares(3, np.random.default_rng(2), squares=2).codes
    groups = {"day": codes[:, 0] * 3 + codes[:, 1], "place": codes[:, 2]}
    assert named(codes[:, 3:], groups=groups).name == "latin_square"


@pytest.mark.parametrize(("versions", "size"), [(4, 2), (7, 3), (9, 3), (6, 3), (5, 4)])
def test_balanced_incomplete_blocks(versions: int, size: int) -> None:
    found = incomplete_blocks(versions, size)
    assert found is not None
    block, version = found.codes.T
    family = named(version[:, None], groups={"oven": block})
    assert family.name == "incomplete_blocks"
    assert family.efficiency == pytest.approx(found.efficiency)
    kept = block > 0  # a block short, it is balanced no longer
    assert named(version[kept][:, None], groups={"oven": block[kept]}).name == "searched"


@pytest.mark.parametrize(
    ("factors", "runs"), [(3, 4), (5, 8), (5, 16), (6, 16), (7, 16), (8, 32), (9, 16)]
)
def test_fractions_and_what_they_mix_up(factors: int, runs: int) -> None:
    found = fraction("abcdefghi"[:factors], runs)
    assert found is not None
    family = named(found.codes)
    assert family.name == "fractional"
    assert dict(family.facts)["resolution"] == numeral(found.resolution)
    assert family.gives_up == found.gives_up
    assert set(map(frozenset, family.mixed)) == set(map(frozenset, found.aliases))
    twice = named(np.vstack([found.codes, found.codes]))
    assert (twice.name, twice.gives_up) == ("fractional", found.gives_up)


def test_a_fraction_in_blocks() -> None:
    found = fraction("abcd", 8)
    assert found is not None
    block = np.repeat(np.arange(2), 8)
    family = named(np.vstack([found.codes] * 2), groups={"oven": block})
    assert family.textbook == (
        "two-level fractional factorial 2^(4-1), resolution IV, in randomised complete blocks "
        "(oven)"
    )


@pytest.mark.parametrize(("factors", "runs"), [(5, 12), (11, 12), (13, 20), (8, 24)])
def test_tables_of_plackett_and_burman(factors: int, runs: int) -> None:
    found = screening("abcdefghijklmnop"[:factors], runs)
    assert found is not None
    family = named(found.codes)
    assert (family.name, family.gives_up) == ("plackett_burman", found.gives_up)
    assert f"in {runs} runs" in family.textbook


@pytest.mark.parametrize(
    ("factors", "blocks", "levels"),
    [(3, 2, 2), (3, 4, 2), (4, 4, 2), (5, 4, 2), (2, 3, 3), (3, 3, 3)],
)
def test_confounded_factorials(factors: int, blocks: int, levels: int) -> None:
    found = confounded("abcde"[:factors], blocks, levels)
    assert found is not None
    family = named(found.codes, groups={"oven": found.block})
    assert family.name == "confounded"
    assert (family.gives_up, family.partly) == (found.gives_up, found.partly)


def test_effects_lost_in_some_copies_only() -> None:
    found = confounded("abc", 2, copies=4, vary=True)
    assert found is not None
    family = named(found.codes, groups={"oven": found.block})
    assert (family.name, family.gives_up, family.partly) == ("confounded", (), found.partly)


def test_one_factor_with_a_control() -> None:
    counts = control_counts(4, 24)
    table = np.repeat(np.arange(5), counts)[:, None]
    assert named(table, control={"a": 0}).name == "with_control"
    inside = named(
        np.vstack([table, table]), control={"a": 0}, groups={"day": np.repeat([0, 1], 24)}
    )
    assert (inside.name, inside.arrangement) == ("with_control", "randomised_blocks")
    assert named(table).name == "searched"  # unequal, and no control explains it


def split(ovens: int = 4) -> tuple[Codes, Codes]:
    oven = np.repeat(np.arange(ovens), 3)
    return np.column_stack([oven % 2, np.tile([0, 1, 2], ovens)]), oven


def test_split_plots() -> None:
    table, oven = split()
    family = named(table, groups={"oven": oven}, sites={"a": "oven"})
    assert (family.name, family.gives_up, family.incomplete) == ("split_plot", (), False)
    assert family.textbook == "full factorial 2 x 3, in a split-plot arrangement (oven)"
    # ovens of two: no oven holds every version of b
    short = np.column_stack([[0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1], [0, 1, 1, 2, 2, 0] * 2])
    other = named(short, groups={"oven": np.repeat(np.arange(6), 2)}, sites={"a": "oven"})
    assert (other.name, other.incomplete, other.gives_up) == ("split_plot", True, ())


def test_a_split_plot_tells_what_is_lost_between_the_large_units() -> None:
    # every oven holds one version of b only
    table = np.column_stack([[0, 0, 0, 0, 1, 1, 1, 1], [0, 0, 1, 1, 0, 0, 1, 1]])
    family = named(table, groups={"oven": np.repeat(np.arange(4), 2)}, sites={"a": "oven"})
    assert family.name == "split_plot"
    assert family.gives_up == ("b", "a:b")
    assert family.notes[0] == "This plan can't tell b and how a and b work together."


def test_criss_cross() -> None:
    row, column = np.repeat(np.arange(4), 6), np.tile(np.arange(6), 4)
    table = np.column_stack([row % 2, column % 3])
    family = named(table, groups={"oven": row, "team": column}, sites={"a": "oven", "b": "team"})
    assert family.name == "criss_cross"
    assert family.groups == ("oven", "team")


def test_recipes_of_no_book() -> None:
    table = np.delete(full_factorial([2, 3]), 0, axis=0)  # a forbidden combination
    family = named(np.tile(table, (2, 1)))
    assert family.name == "searched"
    assert family.partly == ("a:b",)
    assert family.textbook == "recipes chosen by search, completely randomised"
    tied = named([[0, 0], [1, 1], [0, 0], [1, 1]])
    assert tied.gives_up == ("a", "b", "a:b")


def study(**changes: object) -> Study:
    base = Study(
        title="t",
        question="q",
        factors=(
            StudyFactor(name="shape", levels=("x", "y"), shared=False),
            StudyFactor(name="size", levels=("s", "m", "l"), shared=False),
        ),
        responses=(Response(name="y"),),
        limits=Limits(copies=2),
    )
    return base.model_copy(update=changes)


def test_drawn_plans_are_named() -> None:
    assert plan_family(draw(study(), seed=3)).name == "full_factorial"
    tray = StudyGroup(name="tray", count=2, capacity=6)
    assert plan_family(draw(study(groups=(tray,)), seed=3)).name == "randomised_blocks"
    oven = StudyGroup(name="oven", count=4, capacity=3)
    factors = (
        StudyFactor(name="heat", levels=("low", "high"), applied_to="oven"),
        StudyFactor(name="size", levels=("s", "m", "l"), shared=False),
    )
    family = plan_family(draw(study(groups=(oven,), factors=factors), seed=3))
    assert (family.name, family.incomplete) == ("split_plot", False)
    assert plan_family(draw(study(factors=()), seed=3)).name == "practice_run"


def test_the_class_of_48_is_named(cells: Plan) -> None:
    family = plan_family(cells)
    assert family.name == "split_plot"
    assert family.gives_up == ()
    assert all(find_forbidden(note) == () for note in family.notes)


def by_name(offers: Sequence[Offer], name: str) -> list[Offer]:
    return [one for one in offers if one.family.name == name]


def test_offers_for_one_factor() -> None:
    groups = {"oven": (3,) * 7}
    offers = offer(Wanted({"kind": 7}, 24, groups=groups))
    (blocks,) = by_name(offers, "incomplete_blocks")
    assert (blocks.runs, blocks.spare, blocks.blocks, blocks.group) == (21, 3, 7, "oven")
    square = {"day": (4,) * 4, "place": (4,) * 4}
    names = {one.family.name for one in offer(Wanted({"kind": 4}, 16, groups=square))}
    assert names == {"completely_randomised", "randomised_blocks", "latin_square"}
    (best,) = by_name(offer(Wanted({"kind": 5}, 24, control=("kind",))), "with_control")
    assert best.recipes is not None
    assert np.bincount(best.recipes[:, 0]).tolist() == [8, 4, 4, 4, 4]


def test_offers_for_many_factors_keep_wanted_pairs_first() -> None:
    pairs = (("a", "b"), ("c", "d"))
    offers = offer(Wanted(dict.fromkeys("abcdefg", 2), 48, pairs=pairs))
    assert offers[0].family.textbook.startswith("two-level fractional factorial 2^(7-2)")
    assert (offers[0].runs, offers[0].unclear) == (32, ())
    assert {one.runs for one in offers} == {8, 12, 16, 32}
    short = offer(Wanted(dict.fromkeys("abcdefg", 2), 14))
    assert {one.runs for one in short} == {8, 12}
    nearly = offer(Wanted(dict.fromkeys("abcdefg", 2), 14), beyond=2)
    assert {(one.runs, one.spare) for one in nearly} == {(8, 6), (12, 2), (16, -2)}


def test_offers_in_groups() -> None:
    small = offer(Wanted(dict.fromkeys("abc", 2), 16, groups={"oven": (4,) * 4}))
    (blocks,) = by_name(small, "confounded")
    assert (blocks.runs, blocks.copies, blocks.blocks) == (16, 2, 4)
    assert blocks.family.gives_up == ("a:b:c",)
    wanted = Wanted({"a": 2, "b": 3}, 18, groups={"oven": (3,) * 6}, sites={"a": "oven"})
    (one,) = offer(wanted)
    assert (one.family.name, one.runs) == ("split_plot", 18)
    mixed = offer(Wanted({"a": 2, "b": 3}, 12, groups={"oven": (2,) * 6}))
    assert {found.family.name for found in mixed} == {"full_factorial"}  # the rest is searched for
    assert offer(Wanted({}, 4)) == ()


@given(
    st.lists(st.integers(2, 4), min_size=1, max_size=5),
    st.integers(2, 40),
    st.lists(st.integers(2, 8), max_size=6),
)
@settings(derandomize=True, max_examples=60, deadline=None)
def test_every_offer_fits_and_is_what_it_says(
    levels: list[int], items: int, sizes: list[int]
) -> None:
    names = dict(zip("abcde", levels, strict=False))
    groups = {"oven": tuple(sizes)} if len(sizes) > 1 else {}
    for one in offer(
        Wanted(names, items, groups=groups, pairs=(("a", "b"),) if len(names) > 1 else ())
    ):
        assert one.runs + one.spare == items
        assert one.runs <= items
        assert one.recipes is not None
        assert one.runs == one.copies * len(one.recipes)
        assert one.family.name != "searched"
        assert set(one.unclear) <= set(one.family.gives_up)
        if one.block is not None and one.blocks is not None:
            assert one.blocks <= len(sizes)
            assert np.bincount(one.block).max() <= min(sizes)
        blocks = {} if one.block is None else {"oven": one.block}
        columns = {name: one.recipes[:, place] for place, name in enumerate(names)}
        assert recognise(Seen(names, columns, groups=blocks)) == one.family
        assert all(find_forbidden(note) == () for note in one.family.notes)
