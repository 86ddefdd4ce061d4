"""Typed adapter of the uncertainty library: standard uncertainties through any formula."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Protocol, cast


class _WithUncertainty(Protocol):
    nominal_value: float
    std_dev: float


def propagated(
    formula: Callable[[Mapping[str, float]], float],
    values: Mapping[str, float],
    uncertainties: Mapping[str, float],
) -> float:
    """Return the standard uncertainty of ``formula(values)``, to first order.

    Source: JCGM 100:2008, 5.1.2, for inputs that are independent of each other.

    Parameters
    ----------
    formula : uses only + - * / and whole powers of its inputs.
    uncertainties : standard uncertainty of some of the values; the others are taken as exact.

    Examples
    --------
    >>> propagated(lambda v: v["a"] * v["b"], {"a": 3.0, "b": 4.0}, {"a": 0.1}) == 4.0 * 0.1
    True
    """
    from uncertainties import ufloat  # type: ignore[import-untyped]  # it ships no types

    inputs = {
        name: ufloat(value, uncertainties[name]) if uncertainties.get(name) else value
        for name, value in values.items()
    }
    result = cast(_WithUncertainty | float, formula(cast(Mapping[str, float], inputs)))
    return 0.0 if isinstance(result, int | float) else float(result.std_dev)
