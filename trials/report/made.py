"""The answer by what was really made, in words that the page and the terminal share."""

from __future__ import annotations

import math
from collections.abc import Sequence

from trials.analysis.findings import Comparison, MadeFindings, ResponseFindings
from trials.words.otherwise import (
    NOTHING_LEFT,
    as_made_sentence,
    as_planned_sentence,
    left_out_sentence,
)


def as_made_told(found: ResponseFindings, made: MadeFindings, gaps: Sequence[str]) -> str:
    """Return how items that were made otherwise are taken, and what they say as made.

    ``gaps``: the largest differences in words, told where there are no verdicts.
    """
    said = {verdict.factor: verdict.verdict for verdict in found.verdicts}
    differ = [v.sentence for v in made.verdicts if said.get(v.factor) != v.verdict]
    told = [as_planned_sentence(made.items)]
    if not made.n_items:
        return " ".join([*told, NOTHING_LEFT])
    told.append(as_made_sentence(differ, () if made.verdicts else gaps))
    if made.left_out:
        told.append(left_out_sentence(made.left_out))
    return " ".join(told)


def largest_pairs(
    found: ResponseFindings, pairs: Sequence[Comparison]
) -> list[tuple[str, Comparison]]:
    """Return the largest difference of each factor among ``pairs``, in their order."""
    largest: dict[str, tuple[float, Comparison]] = {}
    for one in pairs:
        size = abs(one.difference or 0.0)
        if found.scale == "ratio":
            size = abs(math.log(one.ratio)) if one.ratio is not None and one.ratio > 0 else 0.0
        if one.term not in largest or size > largest[one.term][0]:
            largest[one.term] = (size, one)
    return [(factor, one) for factor, (_, one) in largest.items()]
