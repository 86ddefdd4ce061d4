"""``trials analyse TABLE.csv``: an existing table, with no study folder."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trials.errors import RequestError
from trials.files import read_bytes
from trials.words.options import CHOICES, limit_text, share_hint

if TYPE_CHECKING:
    from trials.analysis.findings import Findings
    from trials.model.structure import Structure
    from trials.study.options import Options


@dataclass(frozen=True)
class TableRequest:
    """A table and what its columns are, as typed on a command line.

    ``choices`` holds the analysis options that were given, keyed as in study.Options.
    """

    table: Path
    factors: tuple[str, ...] = ()
    numbers: tuple[str, ...] = ()
    groups: tuple[str, ...] = ()
    applied: tuple[str, ...] = ()
    choices: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True)
class AnalysedTable:
    """What was found in a table."""

    findings: Findings

    def to_dict(self) -> dict[str, Any]:
        """Return the findings; the same as from Python."""
        return self.findings.to_dict()

    def text(self) -> list[str]:
        """Return the findings as lines to read."""
        from trials.service.findings_text import findings_lines

        return findings_lines(self.findings)


def analyse_table_file(request: TableRequest) -> AnalysedTable:
    """Read the table and analyse it as asked.

    Raises
    ------
    FileError, AnalysisError : the table can't be read, or can't be analysed so.
    RequestError : the options can't be meant.
    """
    from trials.analysis.table_reading import MAX_BYTES, read_table

    # a file that isn't there is the first thing to tell
    raw = read_bytes(request.table, MAX_BYTES)
    structure = structure_of(request)
    options = options_of(request.choices)
    from trials.analysis import analyse_table

    frame = read_table(raw, request.table.name)
    return AnalysedTable(analyse_table(frame, structure, options))


def structure_of(request: TableRequest) -> Structure:
    """Return the two structures that the flags describe.

    Raises
    ------
    RequestError : nothing to compare, or ``--applied`` without an equals sign.
    AnalysisError : a name twice, or an unknown group.
    """
    from trials.model import Factor, Structure

    if not request.factors and not request.numbers:
        raise RequestError(
            "Nothing was named to compare.",
            code="options.no_factor",
            where="--factor, --number",
            do="Name the column with the versions you compare, for instance: --factor dye",
        )
    return Structure(
        factors=[
            *(Factor(name) for name in request.factors),
            *(Factor(name, kind="quantity", trend=True) for name in request.numbers),
        ],
        groups=request.groups,
        applied_to=dict(pairs("--applied", request.applied, "FACTOR=GROUP")),
    )


def options_of(choices: Mapping[str, object]) -> Options:
    """Return the options of an analysis; what is not in ``choices`` stays as usual.

    Raises
    ------
    RequestError : a value that the option doesn't take.
    """
    from pydantic import ValidationError

    from trials.study.options import Options

    given = dict(choices)
    control = given.get("control")
    if isinstance(control, Sequence):
        given["control"] = pairs("--control", [str(text) for text in control], "FACTOR=LEVEL")
    try:
        return Options.model_validate(given)
    except ValidationError as problem:
        first = problem.errors()[0]
        name = str(first["loc"][0])
        flag = next(option.flag for option in CHOICES if option.name == name)
        percent = share_hint(flag, float(first["input"])) if name == "confidence" else ""
        raise RequestError(
            "An option has a value that it doesn't take.",
            code="options.value",
            where=flag,
            found=f"{first['input']}",
            allowed=limit_text(first["msg"].removeprefix("Input should be ")),
            do=percent or "Give a value that is allowed, or leave the option out.",
        ) from None


def pairs(flag: str, texts: Sequence[str], form: str) -> tuple[tuple[str, str], ...]:
    """Return the two sides of each ``A=B``.

    Raises
    ------
    RequestError : an equals sign is missing, or nothing stands on one side.

    Examples
    --------
    >>> pairs("--control", ["dye=none"], "FACTOR=LEVEL")
    (('dye', 'none'),)
    """
    found = []
    for text in texts:
        left, equals, right = text.partition("=")
        if not (left and equals and right):
            raise RequestError(
                "An option needs two names with an equals sign between them.",
                code="options.pair",
                where=flag,
                found=text,
                allowed=form,
                do=f"Write it like {form}, with quotation marks round it if a name holds a space.",
            )
        found.append((left, right))
    return tuple(found)
