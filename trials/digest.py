"""Digests: a SHA-256 over the canonical JSON of a parsed value, never over the bytes of a file."""

from __future__ import annotations

import hashlib
import json
import math
from typing import Any


def canonical_json(value: Any) -> str:
    """Return one fixed text for a JSON value: keys sorted, no spaces, no NaN.

    Examples
    --------
    >>> canonical_json({"b": 1, "a": [1.5, None]})
    '{"a":[1.5,null],"b":1}'
    """
    return json.dumps(
        value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
    )


def digest(value: Any) -> str:
    """Return the SHA-256 of the canonical JSON of ``value``, 64 hexadecimal digits.

    Examples
    --------
    >>> digest({"a": 1}) == digest({"a": 1}), len(digest([]))
    (True, 64)
    """
    return hashlib.sha256(canonical_json(value).encode()).hexdigest()


def finite_or_none(x: float | None) -> float | None:
    """Return ``x`` as a plain float, or None where it is missing, NaN or infinite.

    Examples
    --------
    >>> finite_or_none(float("nan")), finite_or_none(2)
    (None, 2.0)
    """
    if x is None or not math.isfinite(x):
        return None
    return float(x)
