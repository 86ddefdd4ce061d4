"""``trials power``: how many are needed, or what a number of items can show."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from trials.cli.described import add_described
from trials.cli.drawing import show
from trials.errors import RequestError
from trials.service.options import POWER, SIMULATED

_TARGET = Annotated[
    Path | None, typer.Argument(metavar="FOLDER", help="A study folder; or use the options.")
]


def add_power(app: typer.Typer) -> None:
    """Add the verb to the command line."""
    add_described(app, power, _TARGET, (*POWER, *SIMULATED))


def power(target: Path | None, *, as_json: bool, **given: Any) -> None:
    """Say how many items are needed, or what they can show.

    Of a study folder, for all that it compares, with a picture. Or of one comparison, by the
    options: give all but one of --per-group, the difference (--f, or --difference with --sd) and
    --power, and the one that is left out is worked out.

    \b
    Examples:
      trials power --groups 4 --per-group 12 --f 0.25
      trials power --groups 3 --difference 20 --sd 15 --power 0.8
      trials power my-study
      trials power my-study --simulate 1000
    """
    chosen = {name: value for name, value in given.items() if value is not None}
    simulated = [option for option in SIMULATED if option.name in chosen]
    if target is None and simulated:
        raise RequestError(
            "Only the studies of a folder can be simulated.",
            code="options.no_folder",
            where="trials power",
            found=", ".join(option.flag for option in simulated),
            do="Name the study folder: trials power my-study --simulate 1000",
        )
    if target is None:
        from trials.service.power import PowerRequest, power_of

        show(power_of(PowerRequest(**chosen)), as_json)
    elif len(chosen) > len(simulated):
        raise RequestError(
            "Name a study folder or give the options, not both.",
            code="options.folder",
            where=str(target),
            found=", ".join(option.flag for option in POWER if option.name in chosen),
            do="Leave the folder or the options out.",
        )
    else:
        from trials.service.power import power_of_study

        show(power_of_study(target, **chosen), as_json)
