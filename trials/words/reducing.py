"""What is told beside a value of what it was worked out from."""

from __future__ import annotations

from collections.abc import Sequence

from trials.words.language import say
from trials.words.quantity_names import quantity_name


def lacking(short: int, readings: int, missing: Sequence[str]) -> str:
    """Return of how many readings something is missing, and what.

    Examples
    --------
    >>> lacking(1, 3, ["light", "load voltage"])
    '1 of 3 readings lack: light, load voltage'
    """
    return say(
        "{n} of {all} readings lack: {missing}",
        n=short,
        all=readings,
        missing=", ".join(map(quantity_name, missing)),
    )
