"""``trials sweep``: one cell's curve, or which loads to buy for one."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from trials.cli.described import add_described
from trials.cli.drawing import show
from trials.errors import RequestError
from trials.service.options import LOADS, SWEEP

_TARGET = Annotated[
    Path | None,
    typer.Argument(metavar="FILE", help="A table of points: voltage and current, or load."),
]


def add_sweep(app: typer.Typer) -> None:
    """Add the verb to the command line."""
    add_described(app, sweep, _TARGET, (*SWEEP, *LOADS))


def sweep(target: Path | None, *, as_json: bool, **given: Any) -> None:
    """Work out a cell's electrical parameters from one sweep of loads.

    The points may come in any order and with any signs; columns such as 'voltage (V)' with
    'current (mA)' or 'resistance (ohm)'. Before there is a sweep: say which load resistors to buy,
    by --expect-voltage and --expect-current and no file.

    \b
    Examples:
      trials sweep K3.csv --area 4 --irradiance 850
      trials sweep K3.csv --area 4 --lamp
      trials sweep --expect-voltage 0.4 --expect-current 1
    """
    chosen = {name: value for name, value in given.items() if value is not None}
    of_file = target is not None
    astray = [o.flag for o in (LOADS if of_file else SWEEP) if o.name in chosen]
    if astray:
        raise RequestError(
            "Name a file with a sweep or say what you expect of cells, not both."
            if of_file
            else "These options are about a sweep, and no file was named.",
            code="options.file" if of_file else "options.no_file",
            where=str(target) if of_file else "trials sweep",
            found=", ".join(astray),
            do="Leave the file or these options out."
            if of_file
            else "Name the file: trials sweep K3.csv --area 4",
        )
    if target is None:
        from trials.service.loads import LoadsRequest, advise_loads

        show(advise_loads(LoadsRequest(**chosen)), as_json)
    else:
        from trials.service.sweep import SweepRequest, read_sweep

        show(read_sweep(SweepRequest(target, **chosen)), as_json)
