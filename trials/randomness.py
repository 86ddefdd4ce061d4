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


class Chance:
    """Single numbers drawn fast: the same as ``rng.integers`` and ``rng.random`` would give.

    For loops that need one number after another, where a call of the generator costs more than what
    is done with its answer. One thread at a time.

    Source of the method: D. Lemire (2019), Fast random integer generation in an interval, ACM
    Transactions on Modeling and Computer Simulation 29(1).

    Examples
    --------
    >>> chance, rng = Chance(stream(1, "fast")), stream(1, "fast")
    >>> [chance.below(6) for _ in range(4)] == [int(rng.integers(6)) for _ in range(4)]
    True
    """

    def __init__(self, rng: np.random.Generator) -> None:
        source = rng.bit_generator.ctypes
        self.random = rng.random
        self._next, self._state = source.next_uint32, source.state
        self._rng = rng  # holds the state

    def below(self, count: int) -> int:
        """Return a whole number from 0 to ``count`` - 1, each as likely; ``count`` below 2**32."""
        if count < 2:
            return 0
        drawn: int = self._next(self._state) * count
        if (drawn & 0xFFFFFFFF) < count:
            least = (1 << 32) % count
            while (drawn & 0xFFFFFFFF) < least:
                drawn = self._next(self._state) * count
        return drawn >> 32

    def two(self, count: int) -> tuple[int, int]:
        """Return two different numbers below ``count``, which is 2 or more."""
        one = self.below(count)
        return one, (one + 1 + self.below(count - 1)) % count
