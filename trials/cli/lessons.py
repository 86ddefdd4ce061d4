"""The verb for the day that went otherwise: placing what is left to do again."""

from __future__ import annotations

from typing import Annotated

import typer

from trials.cli.described import Folder, Json
from trials.cli.drawing import show


def add_lessons(app: typer.Typer) -> None:
    """Add the verb to the command line."""
    app.command()(lessons)


def lessons(
    folder: Folder,
    *,
    since: Annotated[
        int, typer.Option(help="The first lesson that isn't over yet.", metavar="N", min=1)
    ],
    without: Annotated[
        list[str] | None,
        typer.Option(
            help="One piece of equipment less from lesson N on; may be repeated.", metavar="NAME"
        ),
    ] = None,
    count: Annotated[
        int | None, typer.Option(help="Lessons to be had in all.", metavar="N", min=1)
    ] = None,
    away: Annotated[
        list[str] | None,
        typer.Option(
            help="A team that isn't there from lesson N on: others finish what it made; may be "
            "repeated.",
            metavar="TEAM",
        ),
    ] = None,
    back: Annotated[
        list[str] | None,
        typer.Option(
            help="A team, or one piece of equipment, that was missing and is there again from "
            "lesson N on; may be repeated.",
            metavar="NAME",
        ),
    ] = None,
    not_yet: Annotated[
        list[str] | None,
        typer.Option(
            help="A step right before lesson N that isn't done yet; may be repeated.",
            metavar="STEP",
        ),
    ] = None,
    as_json: Json = False,
) -> None:
    """Place what is left to do again: a team was absent, an oven died, items got lost.

    What was done stays. Nothing changes its version, its team or its place in the order. Where
    it can't be done so, the timetable is left as it is, and the exit code is 1.

    \b
    Examples:
      trials lessons my-study --since 2
      trials lessons my-study --since 2 --without "meter pair"
      trials lessons my-study --since 2 --away 3
      trials lessons my-study --since 2 --back "meter pair"
    """
    from trials.service.lessons import place_again

    again = place_again(
        folder,
        since=since,
        without=tuple(without or ()),
        lessons=count,
        away=tuple(away or ()),
        back=tuple(back or ()),
        not_yet=tuple(not_yet or ()),
    )
    show(again, as_json, failed=again.timetable is None)
    if again.timetable is None:
        raise typer.Exit(1)
