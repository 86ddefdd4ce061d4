"""Everything that can be told to a person when something is wrong.

An error says what, where, what was found, what is allowed and what to do. It carries no colour and
no traceback; the front ends draw it.
"""

from __future__ import annotations


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
    """

    exit_code = 1

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
        self.where = where
        self.found = found
        self.allowed = allowed
        self.do = do
        super().__init__(self.text())

    def text(self) -> str:
        """Return the whole message, one line a part."""
        lines = [self.what]
        for label, value in (
            ("Where", self.where),
            ("Found", self.found),
            ("Allowed", self.allowed),
            ("What to do", self.do),
        ):
            if value:
                lines.append(f"{label}: {value}")
        return "\n".join(lines)

    def to_dict(self) -> dict[str, str]:
        """Return the error as the JSON that every verb prints on failure."""
        return {
            "code": self.code,
            "what": self.what,
            "where": self.where,
            "found": self.found,
            "allowed": self.allowed,
            "do": self.do,
        }


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


class RequestError(TrialsError):
    """Options that contradict each other: a mistake in the call, not in the data."""

    exit_code = 2
