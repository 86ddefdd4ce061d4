"""Everything that can be told to a person when something is wrong.

An error says what, where, what was found, what is allowed and what to do. It carries no colour and
no traceback; the front ends draw it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

_LONGEST = 600  # letters of what was found; the rest of a torn file tells nobody anything


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]} ..."


@dataclass(frozen=True)
class Nearest:
    """A small change that makes an impossible request possible.

    ``change``: the change and its cost, such as "2 more slides (14 instead of 12)". ``lines``: what
    to write into which part of the file, or to delete there. ``items``: how many items it makes.
    ``command``: what draws that plan with the file as it is; empty where it has to be changed.
    ``stop``: the fair-test check of a plan drawn so, to try it, says that it shouldn't be made.
    """

    change: str
    lines: tuple[str, ...]
    items: int
    command: str = ""
    stop: bool = False

    def text(self) -> str:
        """Return the change on one line, with how to get it, and what speaks against it."""
        ways = ["; ".join(self.lines)] if self.lines else []
        ways += [self.command] if self.command else []
        told = f"{self.change}: {'; or once: '.join(ways)}" if ways else self.change
        against = " (it can be drawn, but the fair-test check then says Stop)"
        return told + against if self.stop else told

    def to_dict(self) -> dict[str, Any]:
        """Return the change as JSON has it."""
        return {
            "change": self.change,
            "lines": list(self.lines),
            "items": self.items,
            "command": self.command,
            "stop": self.stop,
        }


class TrialsError(Exception):
    """Root of all errors that a person can mend.

    Parameters
    ----------
    what : one sentence without the place, ending in a full stop.
    code : short stable name, for programs ("study.level_twice").
    where : file, line, key, row or item, as a person would look for it.
    found : what stood there.
    allowed : what may stand there, in a fixed order.
    do : what to do next, one sentence.

    An impossible request may know more: ``conflict``, lines of a file that can't all hold, under a
    heading of one sentence, and ``nearest``, the smallest changes that make it possible.
    """

    exit_code = 1
    conflict: tuple[str, ...] = ()
    nearest: tuple[Nearest, ...] | None = None  # None: not looked for

    def __init__(
        self,
        what: str,
        *,
        code: str,
        where: str = "",
        found: str = "",
        allowed: str = "",
        do: str = "",
    ) -> None:
        self.what = what
        self.code = code
        self.where = _short(where)
        self.found = _short(found)
        self.allowed = allowed
        self.do = do
        super().__init__(self.text())

    def text(self) -> str:
        """Return the whole message, one line a part."""
        return "\n".join([self.what, *(f"{label}: {value}" for label, value in self.parts())])

    def parts(self) -> list[tuple[str, str]]:
        """Return what else is known beside what is wrong: labels and values, none of them empty."""
        first = [
            ("Where", self.where),
            ("Found", self.found),
            ("Allowed", self.allowed),
            ("Why", "\n  ".join(self.conflict)),
            ("What to do", self.do),
        ]
        near = [("Nearest", one.text()) for one in self.nearest or ()]
        return [(label, value) for label, value in (*first, *near) if value]

    def to_dict(self) -> dict[str, Any]:
        """Return the error as the JSON that every verb prints on failure."""
        document: dict[str, Any] = {
            "code": self.code,
            "what": self.what,
            "where": self.where,
            "found": self.found,
            "allowed": self.allowed,
            "do": self.do,
        }
        if self.nearest is not None:
            document["conflict"] = list(self.conflict)
            document["nearest"] = [one.to_dict() for one in self.nearest]
        return document


class FileError(TrialsError):
    """A file can't be read or written."""


class StudyError(TrialsError):
    """study.toml, or a study made from answers, says something impossible."""


class PlanError(TrialsError):
    """A plan can't be made, loaded or changed."""


class RecordError(TrialsError):
    """The record of measurements refuses something."""


class IngestError(TrialsError):
    """A file of measurements can't be taken in at all."""


class AnalysisError(TrialsError):
    """The data can't be analysed as asked."""


class TextError(TrialsError):
    """A text that a person edited says something that the findings don't."""


class RequestError(TrialsError):
    """Options that contradict each other: a mistake in the call, not in the data."""

    exit_code = 2
