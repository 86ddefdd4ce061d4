"""Progress on standard error, only where a person watches a terminal."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Protocol


class Step(Protocol):
    """What a long piece of work calls as it goes on."""

    def __call__(self, done: int, total: int) -> None:
        """Tell that ``done`` of ``total`` pieces are finished."""


def silent(done: int, total: int) -> None:
    """Show nothing."""


@contextmanager
def progress(label: str) -> Iterator[Step]:
    """Show a bar called ``label`` while the block runs, on a terminal only."""
    if not sys.stderr.isatty():
        yield silent
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(label, total=None)

        def step(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)

        yield step
