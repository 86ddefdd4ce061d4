"""How large a check is: in full in ``.ci/long``, smaller in the suite."""

from __future__ import annotations

import os

LONG = os.environ.get("TRIALS_LONG") == "1"


def examples(here: int, full: int) -> int:
    """Give how many examples hypothesis draws: ``full`` in ``.ci/long``, ``here`` elsewhere.

    For checks of which each example takes long; they carry ``@pytest.mark.long``.
    """
    return full if LONG else here
