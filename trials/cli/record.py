"""The verbs about the record as a whole: who was absent, what changed, and taking it elsewhere."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from trials.cli.described import Folder, Json
from trials.cli.drawing import show


def add_record(app: typer.Typer) -> None:
    """Add these verbs to the command line."""
    for verb in (absent, history, export, restore):
        app.command()(verb)


def absent(
    folder: Folder,
    team: Annotated[
        str, typer.Argument(help="The team: its name in plan.csv, or its number.", metavar="TEAM")
    ],
    *,
    session: Annotated[
        str | None,
        typer.Option(
            help="In which session, where the plan has some: its name or number.", metavar="N"
        ),
    ] = None,
    why: Annotated[str, typer.Option(help="What happened, one sentence.", metavar="TEXT")] = "",
    by: Annotated[str, typer.Option(help="Who says so: a code, no name.", metavar="CODE")] = "",
    undo: Annotated[bool, typer.Option("--undo", help="Take it back: it was there.")] = False,
    as_json: Json = False,
) -> None:
    """Record that a team was not there; say what that costs and what can be done.

    What it was to make counts as not made, for a reason outside the comparison, until readings of
    it come in: then they count. A team that was there at first and misses a later lesson is said
    with trials lessons --away.

    \b
    Examples:
      trials absent my-study 3 --why "ill" --by KW
      trials absent my-study 3 --session 2 --why "ill" --by KW    (a plan with sessions)
    """
    from trials.service.absent import record_absent

    show(record_absent(folder, team, session=session, why=why, by=by, undo=undo), as_json)


def history(
    folder: Folder,
    item: Annotated[
        str | None, typer.Argument(help="Only this item, such as K7.", metavar="ITEM")
    ] = None,
    as_json: Json = False,
) -> None:
    """Tell every change with before and after: files, answers, losses, and who said why.

    \b
    Examples:
      trials history my-study
      trials history my-study K7
    """
    from trials.service.history import history_of_study

    show(history_of_study(folder, item), as_json)


def export(
    folder: Folder,
    to: Annotated[
        Path | None,
        typer.Argument(
            help="The folder to write.  [default: export in the study folder]",
            metavar="TO",
            show_default=False,
        ),
    ] = None,
    as_json: Json = False,
) -> None:
    """Write all that is known of a study as a package that others can read without us.

    Tables with their units, questions and answers, every change, and the files as handed in.

    \b
    Example:
      trials export my-study my-study-for-others
    """
    from trials.service.export import export_study

    show(export_study(folder, to), as_json)


def restore(
    package: Annotated[
        Path, typer.Argument(help="A folder that trials export wrote.", metavar="PACKAGE")
    ],
    folder: Annotated[Path, typer.Argument(help="The new study folder.", metavar="FOLDER")],
    as_json: Json = False,
) -> None:
    """Make a study again from a package, with its record as it was.

    \b
    Example:
      trials restore my-study-for-others my-study-again
    """
    from trials.service.restore import restore_study

    show(restore_study(package, folder), as_json)
