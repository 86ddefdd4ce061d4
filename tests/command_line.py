"""The program as a person runs it: a process of its own, in a folder of its own."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent


@dataclass(frozen=True)
class CommandLine:
    """The program as a person runs it, in a folder of its own."""

    folder: Path

    def run(self, *arguments: str | Path, code: int = 0, typed: str = "") -> str:
        """Run one verb, ask for its exit code, and return what it printed.

        What it said on standard error is returned where it failed.
        """
        done = subprocess.run(
            [sys.executable, "-W", "error", "-m", "trials", *map(str, arguments)],
            cwd=self.folder,
            env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"},
            input=typed,
            capture_output=True,
            encoding="utf-8",
            check=False,
        )
        assert done.returncode == code, f"exit code {done.returncode}\n{done.stdout}\n{done.stderr}"
        assert "Traceback" not in done.stderr
        return done.stderr if code and "--json" not in arguments else done.stdout

    def json(self, *arguments: str | Path, code: int = 0) -> Any:
        """Run one verb with --json and return the one document it printed."""
        return json.loads(self.run(*arguments, "--json", code=code))
