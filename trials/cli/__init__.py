"""The command line: ``trials VERB ...``. Sees only the service and the errors."""

from trials.cli.start import main

__all__ = ["main"]
