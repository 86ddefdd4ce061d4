"""How large a check is: in full in ``.ci/long``, smaller in the suite."""

from __future__ import annotations

import os

LONG = os.environ.get("TRIALS_LONG") == "1"


def examples(here: int, full: int) -> int:
    """Give how many examples, draws or cases there are: ``full`` in ``.ci/long``, else ``here``.

    For checks that take long for one of a kind; they carry ``@pytest.mark.long``.
    """
    return full if LONG else here
