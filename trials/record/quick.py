"""Making frozen values by the million."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any, ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")


def quickly(kind: Callable[P, T]) -> Callable[P, T]:
    """Return what makes values of a frozen dataclass with slots, about three times as fast.

    A frozen dataclass sets each field of a new value by a call. Here a draft with the same slots is
    filled in, and then becomes one of the frozen kind: from there on nothing of it can be changed.

    Raises
    ------
    TypeError : the kind is not frozen, has no slots, or does something of its own to a new value.

    Examples
    --------
    >>> from trials.record.values import Cell
    >>> made = quickly(Cell)("height", "4 mm", "mm", None, None)
    >>> made == Cell("height", "4 mm", "mm", None, None), type(made) is Cell
    (True, True)
    """
    known: Any = kind
    about: Any = getattr(known, "__dataclass_params__", None)
    if (
        about is None
        or not about.frozen
        or "__slots__" not in vars(known)
        or hasattr(known, "__post_init__")
    ):
        raise TypeError(f"not a plain frozen dataclass with slots: {known!r}")
    fields = [
        (
            one.name,
            one.type,
            dataclasses.field(default=one.default, default_factory=one.default_factory),
        )
        for one in dataclasses.fields(known)
    ]
    draft: Any = dataclasses.make_dataclass(f"{known.__name__}Draft", fields, slots=True)

    def made(*args: P.args, **kwargs: P.kwargs) -> T:
        new = draft(*args, **kwargs)
        new.__class__ = known
        value: T = new
        return value

    return made
