"""Values that are made quickly are those of the frozen kind in all respects."""

from __future__ import annotations

import dataclasses
import pickle
from decimal import Decimal

import pytest

from trials.record.quick import quickly
from trials.record.values import Cell, Place, Row, new_place, new_row


def test_a_row_made_quickly_is_a_row_like_any_other() -> None:
    number = Decimal("0.41")
    cells = (Cell("height", "0.41", "m", number, number),)
    slow = Row(Place("a.csv", "", 7), "K7", 2, cells, (), "9:05", None, "leaked")
    quick = new_row(new_place("a.csv", "", 7), "K7", 2, cells, (), "9:05", None, "leaked")
    assert type(quick) is Row
    assert quick == slow
    assert (hash(quick), repr(quick)) == (hash(slow), repr(slow))
    assert new_row(quick.place, "K7", None) == Row(slow.place, "K7", None)
    assert dataclasses.replace(quick, item="M2") == dataclasses.replace(slow, item="M2")
    assert pickle.loads(pickle.dumps(quick)) == slow  # noqa: S301  # our own bytes
    assert new_place("a.csv", "", 7) < Place("a.csv", "", 8)
    with pytest.raises(dataclasses.FrozenInstanceError):
        quick.item = "M2"  # type: ignore[misc]  # frozen: that is what is tested
    with pytest.raises(TypeError):
        new_row(quick.place)  # type: ignore[call-arg]  # too few, as tested


@dataclasses.dataclass(frozen=True, slots=True)
class _Checked:
    number: int

    def __post_init__(self) -> None:
        if self.number < 0:
            raise ValueError(self.number)


@dataclasses.dataclass
class _Open:
    number: int


@pytest.mark.parametrize("kind", [_Checked, _Open])
def test_what_checks_its_values_or_may_change_is_not_made_quickly(kind: type) -> None:
    with pytest.raises(TypeError):
        quickly(kind)
