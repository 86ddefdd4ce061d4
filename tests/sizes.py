"""How large a check is: in full in ``.ci/long``, smaller in the suite."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import TypeVar

Case = TypeVar("Case")

LONG = os.environ.get("TRIALS_LONG") == "1"


def examples(here: int, full: int) -> int:
    """Give how many examples, draws or cases there are: ``full`` in ``.ci/long``, else ``here``.

    For checks that take long for one of a kind; they carry ``@pytest.mark.long``.
    """
    return full if LONG else here


def cases(every: Mapping[str, Case], *here: str) -> dict[str, Case]:
    """Give the cases of a check: ``every`` one in ``.ci/long``, those named ``here`` elsewhere.

    For checks that carry ``@pytest.mark.long`` and say the same of many cases.
    """
    return {name: every[name] for name in (every if LONG else here)}
