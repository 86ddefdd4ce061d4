"""What every verb gives back: something a front end can show."""

from __future__ import annotations

from typing import Any, Protocol


class Told(Protocol):
    """The result of a verb."""

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""

    def text(self) -> list[str]:
        """Return what a person reads on a terminal, one line an entry."""
