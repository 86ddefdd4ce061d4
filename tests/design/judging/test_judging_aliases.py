"""What can't be told apart, against published fractions and confounding schemes."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.design.judging.plans import fraction, make
from trials.design.judging import find_aliases, layout_of
from trials.design.values import Alias, Plan
from trials.study import Study


def found(study: Study, plan: Plan) -> tuple[Alias, ...]:
    return find_aliases(layout_of(study, plan), study.analysis.interactions)


def whole(aliases: tuple[Alias, ...], most: int = 2) -> set[frozenset[str]]:
    """Return the complete aliases between terms of at most so many factors, as unordered pairs."""
    return {
        frozenset({a.term, *a.mixed_with})
        for a in aliases
        if a.whole and all(t.count(":") < most for t in (a.term, *a.mixed_with))
    }


def pairs(*texts: str) -> set[frozenset[str]]:
    """Return "A=BC" as {A, B:C}."""
    return {frozenset(":".join(word) for word in text.split("=")) for text in texts}


# G. E. P. Box, W. G. Hunter and J. S. Hunter (1978), Statistics for Experimenters, Wiley, chapter
# 12: the half fraction of 2^3 with C = AB, the quarter of 2^5 with D = AB and E = AC, the half of
# 2^4 with D = ABC, the sixteenth of 2^7 with D = AB, E = AC, F = BC, G = ABC.
@pytest.mark.parametrize(
    ("basic", "generated", "published"),
    [
        ("AB", {"C": "AB"}, pairs("A=BC", "B=AC", "C=AB")),
        (
            "ABC",
            {"D": "AB", "E": "AC"},
            pairs("A=BD", "A=CE", "B=AD", "C=AE", "D=AB", "E=AC", "BC=DE", "BD=CE", "BE=CD"),
        ),
        ("ABC", {"D": "ABC"}, pairs("AB=CD", "AC=BD", "AD=BC")),
    ],
)
def test_published_fractions(
    basic: str, generated: dict[str, str], published: set[frozenset[str]]
) -> None:
    aliases = found(*make(fraction(basic, generated)))
    assert whole(aliases) == published
    assert all(a.share == 1.0 for a in aliases)
    entries = [a.entry for a in aliases if a.entry is not None]
    assert entries
    assert all(abs(abs(entry) - 1) < 1e-9 for entry in entries)


def test_the_sixteenth_of_two_to_the_seven_hides_three_pairs_behind_each_factor() -> None:
    aliases = found(*make(fraction("ABC", {"D": "AB", "E": "AC", "F": "BC", "G": "ABC"})))
    behind = {
        name: {
            a.mixed_with[0] for a in aliases if a.term == name and a.mixed_with[0].count(":") < 2
        }
        for name in "ABCDEFG"
    }
    # Box, Hunter and Hunter (1978), table 12.5: l_1 estimates 1 + 24 + 35 + 67
    assert behind["A"] == {"B:D", "C:E", "F:G"}
    assert all(len(others) == 3 for others in behind.values())


def test_the_plackett_burman_design_in_12_runs_hides_a_third_of_each_pair() -> None:
    # R. L. Plackett and J. P. Burman (1946), Biometrika 33: first row + + - + + + - - - + -
    first = np.array([1, 1, -1, 1, 1, 1, -1, -1, -1, 1, -1])
    rows = [np.roll(first, shift) for shift in range(11)] + [-np.ones(11, dtype=int)]
    table = np.array(rows)[:, :5]
    columns = {
        name: ["high" if x > 0 else "low" for x in table[:, place]]
        for place, name in enumerate("ABCDE")
    }
    aliases = found(*make(columns, interactions=1))
    mains = [a for a in aliases if len(a.term) == 1]
    # every entry of the alias matrix of a factor with a pair of others is 1/3 or -1/3
    assert len(mains) == 5 * 6
    assert {round(abs(a.entry or 0.0), 9) for a in mains} == {round(1 / 3, 9)}
    assert {round(a.share, 9) for a in mains} == {round(1 / 9, 9)}
    assert not any(a.whole for a in mains)


def test_three_levels_a_third_of_the_recipes() -> None:
    cells = [(a, b, (a + b) % 3) for a in range(3) for b in range(3)]
    columns = {name: [f"l{cell[i]}" for cell in cells] for i, name in enumerate("ABC")}
    assert whole(found(*make(columns))) == pairs("A=BC", "B=AC", "C=AB")


def test_two_factors_changed_together_have_one_name() -> None:
    columns = {"dye": list("xxyy"), "heat": list("aabb"), "soak": list("1212")}
    (alias,) = [a for a in found(*make(columns)) if {a.term, *a.mixed_with} == {"dye", "heat"}]
    assert alias.whole


def full(copies: int = 1) -> dict[str, list[str]]:
    cells = list(product(("low", "high"), repeat=3)) * copies
    return {name: [cell[place] for cell in cells] for place, name in enumerate("ABC")}


def test_what_is_given_up_to_blocks_has_its_name() -> None:
    # F. Yates (1937), The Design and Analysis of Factorial Experiments: 2^3 in two blocks of four
    columns = full()
    signs = [
        (a == "high") ^ (b == "high") ^ (c == "high")
        for a, b, c in zip(*columns.values(), strict=True)
    ]
    blocks = {"block": [f"b{int(sign)}" for sign in signs]}
    (alias,) = found(*make(columns, blocks, interactions=3))
    assert (alias.term, alias.mixed_with, alias.whole) == ("A:B:C", ("block",), True)


def test_a_pair_can_be_hidden_by_a_team_and_a_factor_by_two_groups_crossed() -> None:
    columns = full(2)
    high = {name: [x == "high" for x in column] for name, column in columns.items()}
    team = [f"t{int(a ^ b)}" for a, b in zip(high["A"], high["B"], strict=True)]
    aliases = found(*make(columns, {"team": team}))
    assert whole(aliases) == {frozenset({"A:B", "team"})}
    one = [f"s{int(a ^ c)}" for a, c in zip(high["B"], high["C"], strict=True)]
    other = [f"t{int(a ^ b ^ c)}" for a, b, c in zip(*high.values(), strict=True)]
    crossed = found(*make(columns, {"session": one, "team": other}))
    assert frozenset({"A", "session:team"}) in whole(crossed)


def test_a_factor_is_not_mixed_up_with_what_it_is_applied_to_but_with_what_holds_that() -> None:
    heat = ["oven"] * 4 + ["burner"] * 4 + ["oven"] * 4 + ["burner"] * 4
    firing = [f"f{place // 4}" for place in range(16)]
    session = [f"s{place // 8}" for place in range(16)]
    groups = {"session": session, "firing": firing}

    def with_heat(column: list[str]) -> tuple[Alias, ...]:
        nested, applied = {"firing": "session"}, {"heat": "firing"}
        return found(*make({"heat": column}, groups, within=nested, applied=applied))

    assert with_heat(heat) == ()
    (alias,) = with_heat(sorted(heat))
    assert (alias.mixed_with, alias.whole) == (("session",), True)


def test_a_pair_lost_only_to_several_others_together_names_them() -> None:
    columns = {"a": list("112233"), "b": list("121212")}
    rows = [0, 1, 2, 5, 3, 4]
    columns = {name: [column[row] for row in rows] for name, column in columns.items()}
    c = ["p", "p", "p", "q", "q", "q"]
    aliases = found(*make({**columns, "c": c}))
    together = [a for a in aliases if len(a.mixed_with) > 1]
    assert together
    assert all(0 < a.share <= 1 for a in together)


@settings(derandomize=True, max_examples=25, deadline=None)
@given(st.data())
def test_shares_stay_in_range_and_don_t_mind_the_order_of_rows(data: st.DataObject) -> None:
    n = data.draw(st.integers(4, 10))
    columns = {
        name: data.draw(st.lists(st.sampled_from("xyz"[:levels]), min_size=n, max_size=n))
        for name, levels in (("a", 2), ("b", 3), ("c", 2))
    }
    team = data.draw(st.lists(st.sampled_from("uvw"), min_size=n, max_size=n))
    aliases = found(*make(columns, {"team": team}))
    assert all(0.01 <= a.share <= 1 and a.whole == (a.share == 1) for a in aliases)
    order = data.draw(st.permutations(range(n)))
    again = found(
        *make(
            {name: [column[place] for place in order] for name, column in columns.items()},
            {"team": [team[place] for place in order]},
        )
    )
    shares, other = (
        {(a.term, *a.mixed_with): a.share for a in some if len(a.mixed_with) == 1}
        for some in (aliases, again)
    )
    least = 0.01  # below which a share is left out
    for key in shares.keys() | other.keys():
        assert abs(shares.get(key, least) - other.get(key, least)) < 1e-7
