"""The one place of this room where statsmodels is called; it comes without types."""

from __future__ import annotations

from collections.abc import Sequence


def holm(p: Sequence[float]) -> list[float]:
    """Return p-values adjusted by S. Holm (1979), Scandinavian J. Statistics 6, 65-70.

    Examples
    --------
    >>> [round(x, 3) for x in holm([0.01, 0.04, 0.03])]
    [0.03, 0.06, 0.06]
    """
    if len(p) < 2:
        return list(p)  # nothing to adjust for
    from statsmodels.stats.multitest import multipletests  # type: ignore[import-untyped]  # it ships no types

    return [float(x) for x in multipletests(list(p), method="holm")[1]]
