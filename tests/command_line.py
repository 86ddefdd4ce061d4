"""The program as a person runs it, in a folder of its own: here, or in a process of its own."""

from __future__ import annotations

import io
import json
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import chdir, contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest.mock import patch

from trials.cli import main

ROOT = Path(__file__).resolve().parent.parent


@dataclass(frozen=True)
class Done:
    """How a run ended: its exit code and what it printed."""

    code: int
    out: str
    err: str


@dataclass(frozen=True)
class CommandLine:
    """The program as a person runs it, in a folder of its own.

    It runs in this process, from the same front door, so that what it needs is loaded once for all
    tests. With ``afresh`` each verb is a process of its own, as it is for a person.
    """

    folder: Path
    afresh: bool = False

    def run(self, *arguments: str | Path, code: int = 0, typed: str = "") -> str:
        """Run one verb, ask for its exit code, and return what it printed.

        What it said on standard error is returned where it failed.
        """
        run = _in_a_process if self.afresh else _here
        done = run(self.folder, [str(argument) for argument in arguments], typed)
        assert done.code == code, f"exit code {done.code}\n{done.out}\n{done.err}"
        assert "Traceback" not in done.err
        return done.err if code and "--json" not in arguments else done.out

    def json(self, *arguments: str | Path, code: int = 0) -> Any:
        """Run one verb with --json and return the one document it printed."""
        return json.loads(self.run(*arguments, "--json", code=code))


def _in_a_process(folder: Path, arguments: Sequence[str], typed: str) -> Done:
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "trials", *arguments],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"},
        input=typed,
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    return Done(done.returncode, done.stdout, done.stderr)


def _here(folder: Path, arguments: Sequence[str], typed: str) -> Done:
    out, err = _stream(), _stream()
    code: object = None
    with (
        chdir(folder),
        patch.object(sys, "argv", ["trials", *arguments]),
        patch.object(sys, "stdin", _stream(typed)),
        redirect_stdout(out),
        redirect_stderr(err),
        _ctrl_c_as_before(),
    ):
        try:
            main()
        except SystemExit as left:
            code = left.code
    assert isinstance(code, int), f"the program left with {code!r}, which is no exit code"
    return Done(code, _text(out), _text(err))


def _stream(text: str = "") -> io.TextIOWrapper:
    return io.TextIOWrapper(io.BytesIO(text.encode()), encoding="utf-8", write_through=True)


def _text(stream: io.TextIOWrapper) -> str:
    stream.seek(0)
    return stream.read()


@contextmanager
def _ctrl_c_as_before() -> Iterator[None]:
    """Give Ctrl-C back to the tests afterwards: the program takes it over."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.getsignal(signal.SIGINT)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
