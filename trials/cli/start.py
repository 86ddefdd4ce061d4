"""Where the program starts: run one verb, and turn whatever happens into words and an exit code."""

from __future__ import annotations

import sys
from collections.abc import Sequence

import typer
from typer.exceptions import TyperException
from typer.main import get_command

from trials.cli import drawing
from trials.cli.verbs import app
from trials.errors import TrialsError


def main() -> None:
    """Run the command line and leave with its exit code."""
    drawing.make_streams_safe()
    sys.exit(run(sys.argv[1:]))


def run(arguments: Sequence[str]) -> int:
    """Run one verb.

    Returns
    -------
    0 done, 1 something wrong in what the person gave, 2 usage, 3 our fault, 130 stopped.
    """
    as_json = "--json" in arguments
    code = 0
    try:
        left = get_command(app).main(
            args=list(arguments), prog_name="trials", standalone_mode=False
        )
        if left == drawing.STOPPED:  # typer's answer to Ctrl-C
            drawing.show_stopped(as_json)
        code = left if isinstance(left, int) else 0
    except TrialsError as problem:
        drawing.show_error(problem, as_json)
        code = problem.exit_code
    except TyperException as problem:
        drawing.show_usage(problem.format_message(), as_json)
        code = 2
    except (KeyboardInterrupt, typer.Abort):
        drawing.show_stopped(as_json)
        code = drawing.STOPPED
    except BrokenPipeError:
        sys.stderr.close()  # the reader of our output went away: nothing to tell, nobody to hear
        code = 1
    except Exception as fault:  # noqa: BLE001 - the last door: no traceback reaches a person
        drawing.show_fault(fault, as_json)
        code = 3
    return code
