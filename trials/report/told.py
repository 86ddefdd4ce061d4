"""What the page and the terminal tell alike, each by the names that it uses."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from trials.analysis.findings import (
    LEAST_FRESH,
    Comparison,
    MadeFindings,
    ResponseFindings,
    Verdict,
    is_bent,
)
from trials.words.checks import Names, member_name, sensitivity_sentences
from trials.words.further import confirming_sentence, step_text, trend_sentence
from trials.words.language import say
from trials.words.numbers import listing
from trials.words.otherwise import (
    NOTHING_LEFT,
    as_made_sentence,
    as_planned_sentence,
    left_out_sentence,
)


def names_in(
    found: ResponseFindings, factor: Callable[[str], str], kind: Callable[[str], str]
) -> Names:
    """Return how people call the variables, kinds of things and members of a response.

    ``factor`` and ``kind`` give what a factor, and a group by its path or "item", is called.
    """
    members: dict[str, list[str]] = {}
    for point in found.points:
        for path, name in point.groups.items():
            members.setdefault(path, []).append(name)
    return Names(factor, kind, lambda path, name: member_name(name, members.get(path, ())))


def what_it_hangs_on(found: ResponseFindings, names: Names) -> tuple[str, ...]:
    """Return every single change that would give a variable another answer, one sentence each."""
    if not found.verdicts:
        return ()
    pairs = {v.factor: dict[str, None]() for v in found.verdicts if v.reason == "depends"}
    for one in found.crossings:
        pairs.get(one.factor, {})[names.factor(one.within)] = None
    together = {factor: listing([*others]) for factor, others in pairs.items() if others}
    return sensitivity_sentences(found.diagnostics, names, together)


def as_made_told(
    found: ResponseFindings,
    made: MadeFindings,
    gaps: Sequence[str],
    tell: Callable[[Verdict], str],
) -> str:
    """Return how items that were made otherwise are taken, and what they say as made.

    ``gaps``: the largest differences in words, told where there are no verdicts. ``tell`` gives the
    sentence of a verdict.
    """
    said = {verdict.factor: verdict.verdict for verdict in found.verdicts}
    differ = [tell(v) for v in made.verdicts if said.get(v.factor) != v.verdict]
    told = [as_planned_sentence(made.items)]
    if not made.n_items:
        return " ".join([*told, say(NOTHING_LEFT)])
    told.append(as_made_sentence(differ, () if made.verdicts else gaps))
    if made.left_out:
        told.append(left_out_sentence(made.left_out))
    return " ".join(told)


def largest_pairs(pairs: Sequence[Comparison]) -> dict[str, Comparison]:
    """Return the largest difference of each single factor among ``pairs``, in their order."""
    largest: dict[str, Comparison] = {}
    for one in pairs:
        if len(one.a) > 1:
            continue  # within the versions of another factor
        if one.term not in largest or (one.size or 0.0) > (largest[one.term].size or 0.0):
            largest[one.term] = one
    return largest


def trend_told(found: ResponseFindings, factor: str, label: str) -> str:
    """Return how the average changes over a quantity; "" where no line could be worked out."""
    mine = [one for one in found.trends if one.term == factor and not one.levels]
    line = next((one for one in mine if one.degree == 1), None)
    estimate = None if line is None else line.ratio if found.scale == "ratio" else line.slope
    if line is None or estimate is None:
        return ""
    step = step_text(label, line.unit, line.scale)
    bends = is_bent(mine, found.scale)
    return trend_sentence(step, estimate, line.interval, found.scale, found.unit, bends=bends)


def least_told() -> str:
    """Return how many fresh items of each of two recipes a check takes at the least."""
    return say("Make at least {least} of each.", least=LEAST_FRESH)


def fresh_told(found: ResponseFindings) -> str:
    """Return how many fresh items of each of two recipes a check of the best one takes."""
    best = found.best_recipe
    if best is None or best.fresh is None or best.fresh_for is None or best.fresh <= LEAST_FRESH:
        return least_told()
    return confirming_sentence(best.fresh, best.fresh_for, found.scale, found.unit, LEAST_FRESH)
