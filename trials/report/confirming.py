"""The one check run that the winner needs: against what, and how many of each.

It stands in the same words on the report, the board and the judge's page.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from trials.analysis.findings import BestRecipe, Levels, ResponseFindings
from trials.report.story import Story, means_of
from trials.report.told import fresh_told, least_told
from trials.words.language import say
from trials.words.numbers import decimals_of, interval_decimals, listing, plural
from trials.words.sentences import MATTERED


def decided(found: ResponseFindings) -> list[str]:
    """Return what to choose for: variables that matter together, then those that do alone."""
    pairs: list[str] = []
    for crossing in found.crossings:
        parts = set(crossing.term.split(":"))
        if (crossing.turns or crossing.beyond) and not any(
            parts & set(known.split(":")) for known in pairs
        ):
            pairs.append(crossing.term)
    taken = {name for term in pairs for name in term.split(":")}
    alone = [v.factor for v in found.verdicts if v.verdict == MATTERED and v.factor not in taken]
    return [*pairs, *alone]


def has_best_recipe(story: Story, found: ResponseFindings) -> bool:
    """Whether there is a best recipe to tell of, of more than one variable."""
    best = found.best_recipe
    if best is None or best.mean is None or found.ranked is not None:
        return False
    return len(story.study.factors) > 1


def best_decimals(found: ResponseFindings, best: BestRecipe) -> int:
    """Return the decimals of a best recipe's average and its ranges, wherever these are told.

    Three digits of a ratio scale's average, as of other averages; elsewhere as its range allows.
    """
    if found.scale == "ratio" and best.mean is not None:
        return decimals_of(best.mean, 3)
    return interval_decimals(best.interval, best.mean)


@dataclass(frozen=True)
class Check:
    """A check run: what to make against what, how to share it out, and how many of each."""

    make: str
    shared_out: str
    how_many: str

    def __str__(self) -> str:
        done = say("Unless the winner is clearly ahead then, the check hasn't confirmed it.")
        return " ".join(text for text in (self.make, self.shared_out, self.how_many, done) if text)

    @property
    def brief(self) -> str:
        """What to make and how many."""
        return " ".join(text for text in (self.make, self.how_many) if text)

    @property
    def clause(self) -> str:
        """What to make and how many as one sentence, without a capital at the start."""
        make, how_many = (f"{text[0].lower()}{text[1:]}" for text in (self.make, self.how_many))
        return f"{make.rstrip('.')}; {how_many}"


def recipe_check(story: Story, found: ResponseFindings) -> Check | None:
    """Return the check of the best recipe; None without one."""
    best = found.best_recipe
    if best is None:
        return None
    instead = _instead(story, found, best.levels)
    if instead:
        against = say("as many with {instead}", instead=listing(instead, "or"))
    else:
        runner_up = story.levels(best.runner_up)
        against = say("as many by the next best ({recipe})", recipe=runner_up)
    make = say(
        "Make fresh {items} by the best recipe ({recipe}), {against}, in an order drawn by chance.",
        items=plural(story.item),
        recipe=story.levels(best.levels),
        against=against,
    )
    differ = {name for term in decided(found) for name in term.split(":")} if instead else {
        name for name, level in best.levels.items() if level != best.runner_up[name]
    }  # fmt: skip
    return Check(make, _shared_out(story, differ), how_many_told(story, found))


def winner_check(story: Story, found: ResponseFindings) -> Check | None:
    """Return the check of what was decided; None where nothing was."""
    if not decided(found):
        return None
    if has_best_recipe(story, found):
        return recipe_check(story, found)
    best, instead = [], []
    sign = -1 if found.better == "low" else 1
    for term in decided(found):
        means = [mean for mean in means_of(found, term) if mean.mean is not None]
        order = sorted(means, key=lambda mean: -sign * (mean.mean or 0.0))
        if len(order) < 2:
            continue
        first, second = (
            listing([story.level(factor, level) for factor, level in mean.levels.items()])
            for mean in order[:2]
        )
        best.append(first)
        instead.append(say("{second} instead of {first}", second=second, first=first))
    if not best:
        return None
    make = say(
        "Make fresh {items} with {best}, as many with {instead}, in an order drawn by chance.",
        items=plural(story.item),
        best=listing(best),
        instead=listing(instead, "or"),
    )
    differ = {name for term in decided(found) for name in term.split(":")}
    return Check(make, _shared_out(story, differ), how_many_told(story, found))


def _instead(story: Story, found: ResponseFindings, best: Levels) -> list[str]:
    """Return the next best choice for each that was decided, instead of that of the recipe."""
    sign = -1 if found.better == "low" else 1
    told = []
    for term in decided(found):
        own = {name: best[name] for name in term.split(":")}
        others = [
            mean
            for mean in means_of(found, term)
            if mean.mean is not None
            and dict(mean.levels) != own
            and not _is_forbidden(story, {**best, **mean.levels})
        ]
        if others:
            first = max(others, key=lambda mean: sign * (mean.mean or 0.0))
            changed = {name: level for name, level in first.levels.items() if level != own[name]}
            told.append(
                say(
                    "{second} instead of {first}",
                    second=listing([story.level(*one) for one in changed.items()]),
                    first=listing([story.level(name, own[name]) for name in changed]),
                )
            )
    return told


def _shared_out(story: Story, differ: Iterable[str]) -> str:
    """Return over which groups both are to be shared out: those that can hold either."""
    units = [unit for unit in map(story.unit_path, differ) if unit is not None]
    groups = [
        plural(group.label or group.name)
        for group in story.study.groups
        if not any(f"{story.study.path(group.name)}/".startswith(f"{unit}/") for unit in units)
    ]
    if not groups:
        return ""
    return say("Share out each kind evenly over the {groups}.", groups=listing(groups))


def _is_forbidden(story: Story, levels: Levels) -> bool:
    bans = story.study.limits.forbidden
    return any(all(levels.get(name) == level for name, level in ban.items()) for ban in bans)


def how_many_told(story: Story, found: ResponseFindings) -> str:
    """Return how many fresh items a check needs, and that three are the least.

    The findings tell it of the best recipe and its runner-up. It holds for the check of what was
    decided only where both pairs differ in what is applied to the same things.
    """
    best = found.best_recipe
    if best is None:
        return least_told()
    differ = {name for name, level in best.levels.items() if level != best.runner_up[name]}
    pairs = [differ, *(set(term.split(":")) for term in decided(found))]
    if len({frozenset(story.unit_path(name) for name in pair) for pair in pairs}) > 1:
        return least_told()
    return fresh_told(found)
