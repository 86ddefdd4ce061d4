"""How sure we are, and the best recipe with the check that it needs."""

from __future__ import annotations

from trials.analysis.findings import BestRecipe, Effect, ResponseFindings
from trials.render.blocks import Block, Paragraph, Section
from trials.render.table import MISSING, Cell, Column, Table
from trials.report.confirming import best_decimals, has_best_recipe, recipe_check
from trials.report.story import Story, clear_of_zero, main_effects, slug
from trials.words.comparing import Pair, gap_with_range
from trials.words.language import say
from trials.words.numbers import (
    capital,
    chance_of,
    count,
    ends_text,
    listing,
    number,
    plural,
    with_unit,
)
from trials.words.sentences import NO_DIFFERENCE, NOT_SETTLED


def sure_section(story: Story, found: ResponseFindings) -> Section | None:
    """Return how easily chance alone makes what was seen; None where nothing could be tested."""
    tested = [e for e in main_effects(story, found) if e.p is not None or e.p_randomisation]
    if not tested:
        return None
    sure = round(100 * story.confidence)
    text = say(
        "A range of doubt holds the true value in about {sure} of 100 studies like this one. Even "
        "if a variable did nothing, its versions would come out a little different. The table "
        "shows in how many imagined repeats chance alone would set them as far apart as they are "
        "here. The second way needs no fitted model: it draws the lots again on paper, as the plan "
        "could have done.{rough} Neither says how big a difference is. More {items} make the "
        "ranges of doubt narrower.",
        sure=sure,
        rough=_rough(tested),
        items=plural(story.item),
    )
    return Section(
        f"{slug(found.name)}-sure",
        say("How sure we are"),
        (Paragraph(text), _chances(story, tested)),
    )


def _rough(effects: list[Effect]) -> str:
    """Tell that the draw on paper is only rough where several variables moved with it."""
    drawn = [one for one in effects if one.p_randomisation is not None]
    if all(one.exact for one in drawn):
        return ""
    return say(" It is only rough here, because all variables are drawn anew at once.")


def _chances(story: Story, effects: list[Effect]) -> Table:
    columns = (
        Column("variable"),
        Column("fitted", say("if it did nothing, by the fitted model")),
        Column("dealt", say("by drawing lots again")),
    )
    rows: list[tuple[Cell, ...]] = []
    for effect in effects:
        told = (effect.p, effect.p_randomisation)
        chances = (MISSING if p is None else chance_of(p) for p in told)
        rows.append((story.factor_label(effect.term), *chances))
    caption = say("How often chance alone makes versions come out this different")
    return Table("sure", caption, columns, tuple(rows))


def best_section(story: Story, found: ResponseFindings) -> Section | None:
    """Return the best recipe, how far ahead it is, and the check run that it needs."""
    best = found.best_recipe
    if best is None or best.mean is None or not has_best_recipe(story, found):
        return None  # of one variable its own part says it all
    average = _with_range(best.mean, best.interval, found.unit, best_decimals(found, best))
    first, second = story.levels(best.levels), story.levels(best.runner_up)
    of_all = (
        say("Of {n_recipes}", n_recipes=count(len(found.recipes), say("recipe")))
        if found.recipes
        else say("Of all recipes")
    )
    text = say(
        "{of_all}, this one came out best: {first}. The fitted model tells it as {average}.",
        of_all=of_all,
        first=first,
        average=average,
    )
    blocks: list[Block] = [Paragraph(f"{text}{_by_itself(found, best)}")]
    if best.gap is not None:
        pair = Pair(first, second, best.gap, best.gap_interval, found.scale, found.unit)
        clear = clear_of_zero(best.gap_interval, found.scale)
        ahead = say("It is clearly ahead.") if clear else _not_clear(found)
        blocks.append(Paragraph(f"{capital(gap_with_range(pair))}. {ahead}", say("The next best")))
    blocks += [*_failing(story, found, best), *_choices(story, found)]
    blocks.append(Paragraph(_check(story, found), say("Check run")))
    return Section(f"{slug(found.name)}-best", say("The best recipe so far"), tuple(blocks))


def _not_clear(found: ResponseFindings) -> str:
    """Tell that the next best may be as good, and so may others where there are more."""
    if len(found.recipes) == 2:
        return say("So it is not clear which of the two is better.")
    return say("So it is not clear which of the two is better, and others may be as good.")


def _failing(story: Story, found: ResponseFindings, best: BestRecipe) -> list[Block]:
    """Tell what the best recipe has in common with the items that failed."""
    alike = found.failed_alike
    shared = {} if alike is None else {
        factor: level for factor, level in alike.levels.items() if best.levels.get(factor) == level
    }  # fmt: skip
    if alike is None or not shared:
        return []
    maybe = alike.p is None or alike.p >= 1 - story.confidence
    items = plural(story.item)
    like = (
        say("all {n} {items} that failed", n=alike.of_failed, items=items)
        if alike.failed == alike.of_failed
        else say(
            "{failed} of the {n} {items} that failed",
            failed=alike.failed,
            n=alike.of_failed,
            items=items,
        )
    )
    text = say(
        "This recipe has {shared}, like {like}.{luck} So watch whether {items} made by it work.",
        shared=listing([story.level(factor, level) for factor, level in shared.items()]),
        like=like,
        items=items,
        luck=say(" That may be luck.") if maybe else "",
    )
    return [Paragraph(text, say("Failures"))]


def _choices(story: Story, found: ResponseFindings) -> list[Block]:
    """Tell where any version will do, and where that isn't known; not of variables that cross."""
    together = {name for one in found.crossings for name in (one.factor, one.within)}
    alone = [one for one in found.verdicts if one.factor not in together]
    blocks: list[Block] = []
    free = [story.factor_label(v.factor) for v in alone if v.verdict == NO_DIFFERENCE]
    if free:
        text = say(
            "For {free}, any difference stays too small to care about. There, take what "
            "is cheaper, safer or easier.",
            free=listing(free),
        )
        blocks.append(Paragraph(text, say("What is free to choose")))
    open_ = [story.factor_label(v.factor) for v in alone if v.verdict == NOT_SETTLED]
    if open_:
        names = capital(listing(open_))
        text = (
            say("{names} is not settled, so the choice there may matter.", names=names)
            if len(open_) == 1
            else say("{names} are not settled, so the choice there may matter.", names=names)
        )
        blocks.append(Paragraph(text, say("What is not free to choose yet")))
    return blocks


def _check(story: Story, found: ResponseFindings) -> str:
    return say(
        "It was picked for coming out best, so its number is likely a little too good. Check it "
        "before you tell others to build that way. {check}",
        check=recipe_check(story, found),
    )


def _by_itself(found: ResponseFindings, best: BestRecipe) -> str:
    """Tell what the range allows for, and what it would be for a recipe that wasn't picked."""
    own = next((one.interval for one in found.recipes if one.levels == best.levels), None)
    if own is None or (None, None) in (own, best.interval):
        return ""
    return say(
        " That range allows for having picked the best of them; for this recipe by itself it would "
        "be {own}.",
        own=ends_text(own, found.unit, best_decimals(found, best)),
    )


def _with_range(
    mean: float, ends: tuple[float | None, float | None], unit: str, decimals: int
) -> str:
    text = with_unit(number(mean, decimals), unit)
    known = ends != (None, None)
    return (
        say(
            "{text} ({ends_text} fits the data)",
            text=text,
            ends_text=ends_text(ends, unit, decimals),
        )
        if known
        else text
    )
