"""The command line: ``trials VERB ...``. Sees only the service and the errors."""

from __future__ import annotations

import sys

__all__ = ["main"]


def main() -> None:
    """Run the command line and leave with its exit code."""
    try:
        from trials.cli.start import run

        code = run(sys.argv[1:])
    except KeyboardInterrupt:  # while the program was still being loaded, or leaving
        code = 130
    sys.exit(code)
