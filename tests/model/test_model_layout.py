"""Groupings, units and the rule for fixed and random groups."""

from __future__ import annotations

import numpy as np
import pytest

from trials.errors import AnalysisError
from trials.model import Factor, Group, Structure, make_layout


def class_of_48() -> dict[str, list[str]]:
    """Two sessions of four firings, six teams crossing them all: one item each."""
    rows: dict[str, list[str]] = {name: [] for name in ("session", "firing", "team", "heat")}
    for session in "12":
        for firing in range(4):
            for team in "abcdef":
                rows["session"].append(session)
                rows["firing"].append(f"{session}-{firing}")
                rows["team"].append(team)
                rows["heat"].append("oven" if firing % 2 else "burner")
    return rows


def structure() -> Structure:
    return Structure(["heat"], ["session", "session/firing", "team"], {"heat": "firing"})


def test_crossing_groups_make_a_joint_group_only_where_it_holds_several_items() -> None:
    layout = make_layout(structure(), class_of_48())
    assert [g.path for g in layout.groupings] == [
        "session",
        "team",
        "session/firing",
        "session:team",
    ]
    assert [g.path for g in layout.groupings if g.implied] == ["session:team"]


def test_few_members_are_fixed_unless_a_factor_is_applied_to_them() -> None:
    layout = make_layout(structure(), class_of_48())
    assert [g.path for g in layout.fixed] == ["session"]
    assert layout.grouping("session/firing").random


@pytest.mark.parametrize("random", [["all"], ["session"]])
def test_random_can_be_forced(random: list[str]) -> None:
    layout = make_layout(structure(), class_of_48(), random=random)
    assert layout.grouping("session").random


def test_a_group_can_be_declared_fixed() -> None:
    groups = [Group("session"), Group("session/firing"), Group("team", random=False)]
    layout = make_layout(Structure(["heat"], groups), class_of_48())
    assert not layout.grouping("team").random


def test_the_unit_of_a_factor_is_random_whatever_was_declared() -> None:
    groups = [Group("session"), Group("session/firing", random=False)]
    layout = make_layout(Structure(["heat"], groups, {"heat": "firing"}), class_of_48())
    assert layout.grouping("session/firing").random
    assert layout.notes == ("unit_is_random:session/firing",)


def test_the_unit_is_the_largest_group_in_which_a_factor_never_varies() -> None:
    rows = class_of_48()
    layout = make_layout(Structure(["heat"], ["session", "session/firing", "team"]), rows)
    assert layout.units["heat"] == "session/firing"


def test_a_factor_that_varies_in_its_unit_is_refused() -> None:
    rows = class_of_48()
    rows["heat"][0] = "oven"
    with pytest.raises(AnalysisError, match="changes within a group"):
        make_layout(structure(), rows)


def test_groups_of_one_row_or_one_member_are_told_not_used() -> None:
    rows = {"room": ["r"] * 4, "pot": list("abcd"), "feed": list("xxyy")}
    layout = make_layout(Structure(["feed"], ["room", "pot"]), rows)
    assert layout.groupings == ()
    assert layout.notes == ("group_of_one:room", "group_is_row:pot")


def test_quantities_are_ordered_by_number() -> None:
    rows = {"minutes": ["40", "5", "10", "5"]}
    layout = make_layout(Structure([Factor("minutes", "quantity", scale="log")]), rows)
    assert layout.factors["minutes"].levels == ("5", "10", "40")
    np.testing.assert_allclose(layout.values("minutes"), np.log([5, 10, 40]))


@pytest.mark.parametrize(
    ("rows", "code"),
    [
        ({"feed": ["a", ""]}, "table.label_empty"),
        ({"dose": ["a", "b"]}, "table.column_missing"),
    ],
)
def test_bad_columns_are_named(rows: dict[str, list[str]], code: str) -> None:
    with pytest.raises(AnalysisError) as caught:
        make_layout(Structure(["feed"]), rows)
    assert caught.value.code == code


@pytest.mark.parametrize(
    ("factors", "groups", "applied", "code"),
    [
        (["a", "a"], [], {}, "structure.factor_twice"),
        (["a"], ["g", "g"], {}, "structure.group_twice"),
        (["a"], ["g"], {"b": "g"}, "structure.unknown_factor"),
        (["a"], ["g"], {"a": "h"}, "structure.unknown_group"),
        (["a"], ["g/p", "h/p"], {"a": "p"}, "structure.unknown_group"),
    ],
)
def test_impossible_structures_are_refused(
    factors: list[str], groups: list[str], applied: dict[str, str], code: str
) -> None:
    with pytest.raises(AnalysisError) as caught:
        Structure(factors, groups, applied)
    assert caught.value.code == code
