"""What is handed out, as frozen values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Handout:
    """One file to print or to fill in, with one line on what it is for."""

    name: str
    purpose: str
    content: bytes


@dataclass(frozen=True)
class Handouts:
    """Everything that is handed out for one plan, in the order in which it is used."""

    handouts: tuple[Handout, ...]

    @property
    def files(self) -> Mapping[str, bytes]:
        """File name -> content."""
        return {handout.name: handout.content for handout in self.handouts}

    @property
    def listing(self) -> tuple[tuple[str, str], ...]:
        """File name and what it is for, in the order of use."""
        return tuple((handout.name, handout.purpose) for handout in self.handouts)
