"""What can be said of a plan before it is built, as a few lines on a terminal."""

from __future__ import annotations

from trials.design.values import Alias, Detectable, Judgement, Loss, Plan, Tie
from trials.study import Response, Study, labels_of
from trials.words.judging import (
    MOST_RATIO,
    LossFacts,
    loss_sentence,
    mixed_sentence,
    shown_size,
    term_label,
    tied_sentence,
    untested_sentence,
)
from trials.words.numbers import capital, listing, with_unit

MOST = 12  # lines in all
MIXED = 3  # of them on what can't be told apart
NOTABLE = 0.3  # tie between a factor and something else that is told
PARTLY = 0.25  # share from which on a part is told
_HARM = ("untested", "weaker", "test lost", "estimate lost")


def lines(study: Study, plan: Plan, judgement: Judgement, *, trial: bool = False) -> list[str]:
    """Return at most twelve lines: what would show, what is mixed up, what a loss would cost.

    What is left out here is in plan.json and on the page beside it. ``trial``: the plan is a trial
    draw, and what it mixes up in part another draw may not.
    """
    if not plan.factors:
        return []
    labels = labels_of(study)
    losses = _loss_lines(study, plan, judgement)
    out = [
        *_shows(study, plan, judgement, labels),
        *told_apart_lines(study, plan, judgement, trial=trial),
    ]
    room = MOST - len(out)
    if len(losses) > room:
        losses = [*losses[: max(room - 1, 0)], "More on what a loss would cost: in plan.json."]
    return [*out, *losses][:MOST]


def told_apart_lines(
    study: Study, plan: Plan, judgement: Judgement, *, trial: bool = False
) -> list[str]:
    """Return what is mixed up, in all or in part; else that nothing is."""
    if not plan.factors:
        return []
    labels = labels_of(study)
    return [
        *_mixed(plan, judgement, labels, trial=trial),
        *_tied(plan, judgement, labels, trial=trial),
    ]


def _shows(study: Study, plan: Plan, judgement: Judgement, labels: dict[str, str]) -> list[str]:
    """Return the smallest difference that would show, for the response that matters most."""
    response = told_response(study, judgement)
    if response is None:
        return []
    rows = {
        row.term: row
        for row in judgement.detectable
        if row.response == response.name and row.spread == "given"
    }
    told = [
        f"{labels[f.name]} {_sizes(response, rows[f.name])}" for f in plan.factors if f.name in rows
    ]
    label = response.label or response.name
    out = [
        f"Smallest difference in {label} that shows in 8 (9) of 10 repeats:",
        f"  {listing(told)}.",
    ]
    pairs = [row for term, row in rows.items() if ":" in term and row.at_80 is not None]
    if pairs:
        worst = max(pairs, key=lambda row: row.at_80 or 0.0)
        size = shown_size(worst.at_80, ratio=response.compare == "ratio", unit=response.unit)
        out.append(
            f"  That one depends on another shows if it moves a difference by {size} "
            f"({term_label(worst.term, labels)}, the hardest to see)."
        )
    return out


def told_response(study: Study, judgement: Judgement) -> Response | None:
    """Return the response that the lines speak of: the primary one, else the first with numbers."""
    named = {row.response for row in judgement.detectable}
    found = [response for response in study.responses if response.name in named]
    return next((r for r in found if r.primary), found[0] if found else None)


def _sizes(response: Response, row: Detectable) -> str:
    if row.at_80 is None:
        return "not at all"
    ratio = response.compare == "ratio"
    first, second = (shown_size(x, ratio=ratio, unit="") for x in (row.at_80, row.at_90))
    if ratio:
        first, second = (text.removesuffix("\u00a0times") for text in (first, second))
        if row.at_80 > MOST_RATIO:
            return with_unit(first, "times")
    return with_unit(f"{first} ({second})", "times" if ratio else response.unit)


IN_TRIAL = "In this trial draw: "


def _mixed(plan: Plan, judgement: Judgement, labels: dict[str, str], *, trial: bool) -> list[str]:
    names = {factor.name for factor in plan.factors}
    whole = [a for a in judgement.aliases if a.whole and _is_told(a, names)]
    parts = [
        a
        for a in judgement.aliases
        if not a.whole and a.term in names and a.share >= PARTLY and _is_told(a, names)
    ]
    told = [*whole, *parts]
    if not told and plan.untested:
        return [untested_sentence([labels[name] for name in plan.untested])]
    if not told:
        others = [*(["every other"] if len(names) > 1 else []), *_groups(plan, labels)]
        which = "Every variable" if len(names) > 1 else capital(labels[plan.factors[0].name])
        return [f"{which} can be told from {listing(others)}."] if others else []
    out = [
        (IN_TRIAL + alias_text(alias, labels) if trial else capital(alias_text(alias, labels)))
        + "."
        for alias in told[:MIXED]
    ]
    if len(told) > MIXED:
        out[-1] = f"{len(told) - MIXED + 1} more things are mixed up: see plan.json."
    return out


def _groups(plan: Plan, labels: dict[str, str]) -> list[str]:
    return [labels[group.name] for group in plan.groups]


def _is_told(alias: Alias, names: set[str]) -> bool:
    """Return whether an alias is of use on a terminal: not between terms of three factors."""
    orders = [term.count(":") for term in (alias.term, *alias.mixed_with) if _is_term(term, names)]
    return max(orders) < 2


def _is_term(term: str, names: set[str]) -> bool:
    return all(part in names for part in term.split(":"))


def alias_text(alias: Alias, labels: dict[str, str]) -> str:
    """Return what can't be told apart, as part of a sentence."""
    return mixed_sentence(
        term_label(alias.term, labels),
        [term_label(other, labels) for other in alias.mixed_with],
        share=alias.share,
        whole=alias.whole,
    )


def _tied(plan: Plan, judgement: Judgement, labels: dict[str, str], *, trial: bool) -> list[str]:
    factors = {factor.name for factor in plan.factors}
    places = factors | {group.name for group in plan.groups}
    found: list[Tie] = [
        tie
        for tie in judgement.ties
        if not tie.meant and tie.first in factors and tie.second in places
        and NOTABLE <= (tie.tie or 0.0) < 1.0
    ]  # fmt: skip
    if not found:
        return []
    worst = max(found, key=lambda tie: tie.tie or 0.0)
    first, second = (term_label(name, labels) for name in (worst.first, worst.second))
    told = tied_sentence(first, second, worst.tie or 0.0)
    return [IN_TRIAL + told[0].lower() + told[1:] if trial else told]


def _loss_lines(study: Study, plan: Plan, judgement: Judgement) -> list[str]:
    """Return one line for a lost item and for each group: what is hit hardest."""
    kinds: list[str | None] = [None, *(group.name for group in reversed(plan.groups))]
    out = []
    for kind in kinds:
        found = [loss for loss in judgement.worst_loss if loss.group == kind]
        if found:
            worst = max(found, key=lambda loss: (_HARM.index(loss.effect), loss.growth or 0.0))
            out.append(loss_text(study, worst, named=bool(plan.seeds_tried)))
    return out


def loss_text(study: Study, loss: Loss, *, named: bool = True) -> str:
    """Return the sentence about one loss; the members of a mere specimen have no names."""
    return loss_sentence(loss_facts(study, loss, named=named))


def loss_facts(study: Study, loss: Loss, *, named: bool = True) -> LossFacts:
    """Return a loss as a sentence names it."""
    labels = labels_of(study)
    before = after = ""
    if loss.response is not None:
        response = study.response(loss.response)
        ratio = response.compare == "ratio"
        before, after = (
            shown_size(x, ratio=ratio, unit=response.unit) if x is not None else ""
            for x in (loss.before, loss.after)
        )
    return LossFacts(
        group=study.item_name if loss.group is None else labels[loss.group],
        member=loss.member if named and loss.group is not None else "",
        items=loss.items,
        item=study.item_name,
        factor=labels[loss.factor],
        effect=loss.effect,
        before=before,
        after=after,
        growth=loss.growth,
    )
