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


def with_few_digits(value: Any, digits: int = 6) -> Any:
    """Return a JSON value whose computed numbers are cut to a few significant digits.

    Two machines may differ in the last digits of the same computation; a digest over what this
    returns is the same on both.

    Examples
    --------
    >>> with_few_digits({"power": [0.123456789, 1]}), with_few_digits(2 / 3 + 1e-16)
    ({'power': [0.123457, 1]}, 0.666667)
    """
    if isinstance(value, dict):
        return {key: with_few_digits(inner, digits) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [with_few_digits(inner, digits) for inner in value]
    return float(f"{value:.{digits}g}") if isinstance(value, float) else value
