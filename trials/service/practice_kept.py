"""What a study took from a practice run, as a file: a package has no practice run beside it.

`trials export` writes it, and a study made again from the package reads it in place of the folder
that its study.toml names. The digests say which plan and which record it was read from.
"""

from __future__ import annotations

import json
from typing import Any, Literal

from pydantic import ValidationError

from trials.digest import digest
from trials.errors import FileError
from trials.files import read_bytes
from trials.study import Response, Study
from trials.study.values import Frozen, TakenSpread
from trials.workspace import Workspace


class KeptSpread(Frozen):
    """The spread of one response, in its unit and on its scale, and how many items failed."""

    response: str
    unit: str
    compare: Literal["difference", "ratio"]
    spread: TakenSpread

    def fits(self, response: Response) -> bool:
        """Whether the study still asks for just this."""
        return (self.response, self.unit, self.compare, self.spread.written) == (
            response.name, response.unit, response.compare, response.spread
        )  # fmt: skip


class KeptPractice(Frozen):
    """All that a study took from a practice run, and what it was read from."""

    format_version: Literal[1] = 1
    folder: str  # as study.toml names it
    title: str
    plan_digest: str
    record_digest: str
    spreads: tuple[KeptSpread, ...]

    def of(self, study: Study) -> dict[str, TakenSpread]:
        """Return the spread of each response that the study still asks for in the same way."""
        if study.spread_from != self.folder:
            return {}
        responses = {response.name: response for response in study.responses}
        return {
            one.response: one.spread
            for one in self.spreads
            if one.response in responses and one.fits(responses[one.response])
        }

    def to_json(self) -> str:
        """Return the text of the file."""
        value = self.model_dump(mode="json")
        return json.dumps(value | {"digest": digest(value)}, ensure_ascii=False, indent=1) + "\n"


def kept_practice(here: Workspace) -> KeptPractice | None:
    """Return what is kept in a study folder; None where nothing is.

    Raises
    ------
    FileError : it is not as the program wrote it.
    """
    if not here.practice.is_file():
        return None
    try:
        value: dict[str, Any] = json.loads(read_bytes(here.practice))
        said = value.pop("digest")
        kept = KeptPractice.model_validate(value)
    except (ValueError, KeyError, TypeError, AttributeError, ValidationError) as problem:
        raise _changed(here, str(problem).splitlines()[0]) from None
    if said != digest(value):
        raise _changed(here, "the contents don't fit the check code at the end of the file")
    return kept


def _changed(here: Workspace, found: str) -> FileError:
    return FileError(
        "What was taken from the practice run is not as the program wrote it.",
        code="practice.changed",
        where=str(here.practice),
        found=found,
        allowed="the file exactly as it was in the package",
        do="Put it back from the package; or delete it, and the spread is read from the folder "
        "that study.toml names behind spread_from.",
    )
