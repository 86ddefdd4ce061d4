"""``trials analyse``: a study folder, or any table with its columns named by options."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from trials.cli.described import add_described
from trials.cli.drawing import show
from trials.errors import RequestError
from trials.service.options import CHOICES, COLUMNS

_TARGET = Annotated[
    Path, typer.Argument(metavar="FOLDER|TABLE.csv", help="A study folder, or a table.")
]


def add_analyse(app: typer.Typer) -> None:
    """Add the verb to the command line."""
    add_described(app, analyse, _TARGET, (*COLUMNS, *CHOICES))


def analyse(target: Path, *, as_json: bool, **given: Any) -> None:
    """Say which choice mattered, and how sure that is.

    Of a study folder, from its plan and its measurements; writes findings.json there.
    Of a table, with its columns named; rows are the smallest units unless --item names a column.

    \b
    Examples:
      trials analyse my-study
      trials analyse yields.csv --response yield --factor variety --group block
    """
    chosen = {name: value for name, value in given.items() if value not in (None, (), [])}
    if target.suffix.lower() in (".csv", ".tsv", ".txt") or target.is_file():
        _analyse_table(target, chosen, as_json)
    elif chosen:
        raise RequestError(
            "These options belong to a table, and this is a study folder.",
            code="options.folder",
            where=str(target),
            found=", ".join(_flag(name) for name in chosen),
            do="Leave them out: a study says in its study.toml how it is to be analysed.",
        )
    else:
        from trials.service.analyse import analyse_folder

        show(analyse_folder(target), as_json)


def _analyse_table(table: Path, chosen: dict[str, Any], as_json: bool) -> None:
    from trials.service.table import TableRequest, analyse_table_file

    columns = {option.name: tuple(chosen.pop(option.name, ())) for option in COLUMNS}
    request = TableRequest(table=table, choices=chosen, **columns)
    show(analyse_table_file(request), as_json)


def _flag(name: str) -> str:
    return next(option.flag for option in (*COLUMNS, *CHOICES) if option.name == name)
