"""Drawing on the terminal: results on standard output, what went wrong on standard error."""

from __future__ import annotations

import datetime
import io
import json
import shutil
import sys
import tempfile
import textwrap
import traceback
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from trials.errors import TrialsError

if TYPE_CHECKING:
    from trials.service.told import Told

STOPPED = 130  # what shells expect of a program that was stopped with Ctrl-C


def make_streams_safe() -> None:
    """Let an old terminal show '?' for a letter it does not know, rather than fail."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def show(result: Told, as_json: bool, *, failed: bool = False) -> None:
    """Print the result of a verb: one JSON document, or lines to read.

    Why a verb ``failed`` is read on standard error.
    """
    if as_json:
        _print_json(result.to_dict())
        return
    out = sys.stderr if failed else sys.stdout
    width = shutil.get_terminal_size().columns if out.isatty() else 0
    for line in result.text():
        typer.echo(wrapped(line, width) if width else line, file=out)


def wrapped(line: str, width: int) -> str:
    """Return a line of prose broken to a width, with its indent; a row of a table as it is.

    Examples
    --------
    >>> print(wrapped("  Heat mattered: the oven gave more.", 20))
      Heat mattered: the
      oven gave more.
    """
    text = line.strip()
    if len(line) <= width or "  " in text:
        return line
    indent = line[: len(line) - len(line.lstrip())]
    return textwrap.fill(
        text,
        width,
        initial_indent=indent,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


def show_error(problem: TrialsError, as_json: bool) -> None:
    """Print what was wrong: on standard output as JSON, else drawn on standard error."""
    if as_json:
        _print_json({"error": problem.to_dict()})
        return
    _draw(problem.what, problem.parts())


def show_stopped(as_json: bool) -> None:
    """Print that the person stopped the program."""
    problem = TrialsError(
        "Stopped. Nothing was lost: whatever was finished before is saved.",
        code="stopped",
        do="Run the same command again when you like.",
    )
    show_error(problem, as_json)


def show_fault(fault: Exception, as_json: bool) -> None:
    """Print that the program failed, and keep the details in a file."""
    log = _keep_details(fault)
    problem = TrialsError(
        "The program made a mistake of its own. It is not your fault, and nothing that was saved "
        "is lost.",
        code="internal",
        where=f"details are in {log}" if log else "",
        found=f"{type(fault).__name__}: {fault}",
        do="Run it again. If it happens again, show that file to whoever looks after the program.",
    )
    show_error(problem, as_json)


def _print_json(value: object) -> None:
    typer.echo(json.dumps(value, indent=1, allow_nan=False))


def _draw(what: str, parts: list[tuple[str, str]]) -> None:
    from rich.console import Console
    from rich.text import Text

    console = Console(stderr=True, highlight=False, soft_wrap=True)
    console.print(Text(what, style="bold"))
    for label, value in parts:
        console.print(Text.assemble((f"{label}: ", "bold"), value))


def _keep_details(fault: Exception) -> Path | None:
    """Write the traceback to a file of its own; None if even that fails."""
    now = datetime.datetime.now(datetime.UTC).strftime("%Y%m%d-%H%M%S")
    details = "".join(traceback.format_exception(fault))
    try:
        with tempfile.NamedTemporaryFile(
            "w", prefix=f"trials-{now}-", suffix=".txt", delete=False, encoding="utf-8"
        ) as log:
            log.write(f"trials {' '.join(sys.argv[1:])}\n\n{details}")
    except OSError:
        return None
    return Path(log.name)
