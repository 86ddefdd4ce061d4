"""Work that is spared Python's search for things that only hold each other."""

from __future__ import annotations

import contextlib
import gc
from collections.abc import Iterator


@contextlib.contextmanager
def steadily() -> Iterator[None]:
    """Keep Python from looking for circles while the block runs.

    For millions of readings, which have none, and for a drawing, which has a great many and keeps
    them all until it is finished.

    Examples
    --------
    >>> with steadily():
    ...     gc.isenabled()
    False
    """
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()
