"""One place where random numbers come from.

Every use draws from its own named stream of the recorded seed, so that changing how one stage uses
chance does not change what another stage draws.
"""

from __future__ import annotations

import hashlib
import secrets
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    import numpy as np

_AT_ONCE: Final = 128  # words of a generator


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
    is done with its answer. The generator's words are fetched many at a time. It is used by nobody
    else while the block runs, and stands afterwards where single draws would have left it.

    Parameters
    ----------
    rng : from :func:`stream`, or another generator on PCG64.

    Source of the method: D. Lemire (2019), Fast random integer generation in an interval, ACM
    Transactions on Modeling and Computer Simulation 29(1).

    Examples
    --------
    >>> rng = stream(1, "fast")
    >>> with Chance(stream(1, "fast")) as chance:
    ...     [chance.below(6) for _ in range(4)] == [int(rng.integers(6)) for _ in range(4)]
    True
    """

    def __init__(self, rng: np.random.Generator) -> None:
        # the state as a plain mapping: the annotations know no generator of a kind
        self._source: Any = rng.bit_generator
        self._words: list[int] = []  # of 64 bits, the next one last
        self._half = -1  # the upper half of a word whose lower one was given out; -1: none

    def __enter__(self) -> Chance:
        state = self._source.state
        if state["has_uint32"]:
            self._half = int(state["uinteger"])
        return self

    def __exit__(self, *_: object) -> None:
        self._source.advance(-len(self._words))
        self._words.clear()
        if self._half >= 0:
            self._source.state = {**self._source.state, "has_uint32": 1, "uinteger": self._half}

    def _more(self) -> int:
        """Fetch words, and return the first of them."""
        self._words = self._source.random_raw(_AT_ONCE).tolist()
        self._words.reverse()
        return self._words.pop()

    def random(self) -> float:
        """Return a number from 0 to below 1."""
        word = self._words.pop() if self._words else self._more()
        return (word >> 11) * 2.0**-53

    def _half_word(self) -> int:
        """Return the next 32 bits."""
        half = self._half
        if half >= 0:
            self._half = -1
            return half
        word = self._words.pop() if self._words else self._more()
        self._half = word >> 32
        return word & 0xFFFFFFFF

    def below(self, count: int) -> int:
        """Return a whole number from 0 to ``count`` - 1, each as likely; ``count`` below 2**32."""
        if count < 2:
            return 0
        half = self._half
        if half >= 0:
            self._half = -1
        else:  # as in _half_word: a call would cost as much as the rest
            word = self._words.pop() if self._words else self._more()
            self._half = word >> 32
            half = word & 0xFFFFFFFF
        drawn = half * count
        if (drawn & 0xFFFFFFFF) < count:
            least = (1 << 32) % count
            while (drawn & 0xFFFFFFFF) < least:
                drawn = self._half_word() * count
        return drawn >> 32

    def two(self, count: int) -> tuple[int, int]:
        """Return two different numbers below ``count``, which is 2 or more."""
        one = self.below(count)
        return one, (one + 1 + self.below(count - 1)) % count
