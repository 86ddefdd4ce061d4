"""The command line: ``trials VERB ...``. Sees only the service and the errors."""

from __future__ import annotations

import os
import sys

__all__ = ["main"]


def main() -> None:
    """Run the command line and leave with its exit code."""
    # all matrices here are small: sharing them out among threads takes longer than the work
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        from trials.cli.start import run

        code = run(sys.argv[1:])
    except KeyboardInterrupt:  # while the program was still being loaded, or leaving
        code = 130
    sys.exit(code)
