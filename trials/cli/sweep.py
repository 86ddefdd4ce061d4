"""``trials sweep``: one cell's curve."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from trials.cli.described import add_described
from trials.cli.drawing import show
from trials.service.options import SWEEP

_TARGET = Annotated[
    Path, typer.Argument(metavar="FILE", help="A table of points: voltage and current, or load.")
]


def add_sweep(app: typer.Typer) -> None:
    """Add the verb to the command line."""
    add_described(app, sweep, _TARGET, SWEEP)


def sweep(target: Path, *, as_json: bool, **given: Any) -> None:
    """Work out a cell's electrical parameters from one sweep of loads.

    The points may come in any order and with any signs; columns such as 'voltage (V)' with
    'current (mA)' or 'resistance (ohm)'.

    \b
    Examples:
      trials sweep K3.csv --area 4 --irradiance 850
      trials sweep K3.csv --area 4 --lamp
    """
    from trials.service.sweep import SweepRequest, read_sweep

    chosen = {name: value for name, value in given.items() if value is not None}
    show(read_sweep(SweepRequest(target, **chosen)), as_json)
