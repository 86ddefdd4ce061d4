"""Where the program starts: run one verb, and turn whatever happens into words and an exit code."""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Sequence
from functools import cache
from types import FrameType
from typing import TYPE_CHECKING

import typer
from typer.exceptions import TyperException
from typer.main import get_command

from trials.cli import drawing
from trials.cli.usage import usage_error
from trials.cli.verbs import app
from trials.errors import TrialsError

if TYPE_CHECKING:
    from typer._click import Command


def run(arguments: Sequence[str]) -> int:
    """Run one verb.

    Returns
    -------
    0 done, 1 something wrong in what the person gave, 2 usage, 3 our fault, 130 stopped.
    """
    as_json = "--json" in arguments
    code = 0
    drawing.make_streams_safe()
    stop = _Stop()
    try:
        left = _verbs().main(args=list(arguments), prog_name="trials", standalone_mode=False)
        if left == drawing.STOPPED:  # typer's answer to Ctrl-C
            drawing.show_stopped(as_json)
        code = left if isinstance(left, int) else 0
        if stop.pressed and code == 0:  # a compiled library let Ctrl-C fall, and the work went on
            drawing.show_stopped(as_json)
            code = drawing.STOPPED
    except TrialsError as problem:
        drawing.show_error(problem, as_json)
        code = problem.exit_code
    except TyperException as problem:
        context = getattr(problem, "ctx", None)
        command = context.command_path if context is not None else "trials"
        told = (context.command.help if context is not None else "") or ""
        meaning = getattr(getattr(problem, "param", None), "help", "") or ""
        wrong = usage_error(
            problem.format_message(), command, arguments, meaning=meaning, told=told
        )
        drawing.show_error(wrong, as_json)
        code = 2
    except (KeyboardInterrupt, typer.Abort):
        drawing.show_stopped(as_json)
        code = drawing.STOPPED
    except BrokenPipeError:
        sys.stderr.close()  # the reader of our output went away: nothing to tell, nobody to hear
        code = 1
    except Exception as fault:  # noqa: BLE001 - the last door: no traceback reaches a person
        if stop.pressed:  # compiled libraries turn Ctrl-C into errors of their own
            drawing.show_stopped(as_json)
            return drawing.STOPPED
        drawing.show_fault(fault, as_json)
        code = 3
    return code


@cache
def _verbs() -> Command:
    """Return all verbs with what may be said to each, which takes a while to be put together."""
    return get_command(app)


class _Stop:
    """Remember that Ctrl-C was pressed, whatever becomes of it on its way up."""

    def __init__(self) -> None:
        self.pressed = False
        if threading.current_thread() is threading.main_thread():
            signal.signal(signal.SIGINT, self._press)

    def _press(self, number: int, frame: FrameType | None) -> None:
        self.pressed = True
        signal.default_int_handler(number, frame)
