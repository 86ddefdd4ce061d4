"""One place where random numbers come from.

Every use draws from its own named stream of the recorded seed, so that changing how one stage uses
chance does not change what another stage draws.
"""

from __future__ import annotations

import hashlib
import secrets
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np


def new_seed() -> int:
    """Return a fresh seed from the machine's own source of chance, 1 to 999,999,999."""
    return secrets.randbelow(999_999_999) + 1


def stream(seed: int, name: str) -> np.random.Generator:
    """Return the generator of the stream ``name`` of ``seed``.

    Examples
    --------
    >>> bool(stream(1, "plan").integers(10**9) == stream(1, "plan").integers(10**9))
    True
    >>> bool(stream(1, "plan").integers(10**9) == stream(1, "codes").integers(10**9))
    False
    """
    import numpy as np

    key = int.from_bytes(hashlib.sha256(name.encode()).digest()[:8], "big")
    return np.random.default_rng(np.random.SeedSequence(entropy=seed, spawn_key=(key,)))
