"""The verbs: what each takes. The work is done by the service module of the same name."""

from __future__ import annotations

from typing import Annotated

import typer

app = typer.Typer(
    name="trials",
    add_completion=False,
    invoke_without_command=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["--help"], "max_content_width": 100},
)


@app.callback()
def start(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False,
) -> None:
    """Compare ways of building a small thing fairly.

    Plan, hand out, measure, judge, report. Start with: trials demo
    """
    if version:
        from trials import __version__

        typer.echo(f"trials {__version__}")
    elif context.invoked_subcommand is None:
        typer.echo(context.get_help())
