"""How to repeat it: the making step by step, and what draws the same plan again."""

from __future__ import annotations

from trials.design.treatments import amount
from trials.errors import TrialsError
from trials.render.blocks import Block, Bullets, Paragraph, Section
from trials.report.story import Story
from trials.study.values import Step
from trials.words.language import say
from trials.words.numbers import capital, count, given, listing, plural


def again_section(story: Story) -> Section:
    """Return what another class needs to do the same."""
    study = story.study
    blocks: list[Block] = []
    if study.steps:
        blocks.append(Paragraph(say("Read the cautions above first. Then, step by step:")))
        blocks.append(Bullets(tuple(_step(story, step) for step in study.steps), numbered=True))
    told = tuple(
        f"{capital(story.level(factor.name, level))}: {factor.how[level]}"
        for factor in study.factors
        for level in factor.levels
        if level in factor.how
    )
    if told:
        blocks.append(Paragraph(say("The {items} differ in this only:", items=plural(story.item))))
        blocks.append(Bullets(told))
    blocks.append(Paragraph(_order(story), say("Order and number")))
    blocks.append(Paragraph(_program(story), say("With the program")))
    return Section("again", say("How to repeat it"), tuple(blocks))


def _step(story: Story, step: Step) -> str:
    text = f"{step.label or step.name}: {step.text}" if step.text else f"{step.label or step.name}."
    text = text if text.endswith((".", "!", "?")) else f"{text}."
    times = []
    if step.minutes:
        times.append(say("{minutes} of work", minutes=given(step.minutes, "min")))
    if step.waiting_is is not None:
        label = story.factor_label(step.waiting_is)
        times.append(say("waiting as long as the {label} says", label=label))
    elif step.waiting:
        times.append(say("{minutes} of waiting", minutes=given(step.waiting, "min")))
    given_to: dict[str, list[str]] = {}
    for name in step.factors:
        unit = story.unit_group(name) or story.item
        given_to.setdefault(unit, []).append(story.factor_label(name))
    chosen = "".join(
        say(" Here each {unit} gets its {labels}.", unit=unit, labels=listing(labels))
        for unit, labels in given_to.items()
    )
    told = f" ({listing(times)}{_one_by_one(story, step)})" if times else ""
    return f"{text}{told}{chosen}"


def _one_by_one(story: Story, step: Step) -> str:
    """Return under which versions the work is for each item by itself, and not for all at once."""
    together = {group.name for group in story.study.groups if group.step == step.name}
    alone = [
        story.level(factor.name, level)
        for factor in story.study.factors
        for level in factor.levels
        if factor.applied_to in together and level in step.one_by_one
    ]
    if not alone or not step.minutes:
        return ""
    return say(
        "; with {versions}, {minutes} of work for each {item}",
        versions=listing(alone, "or"),
        minutes=given(step.minutes, "min"),
        item=story.item,
    )


def _order(story: Story) -> str:
    recipes = len({tuple(sorted(row.factors.items())) for row in story.plan.rows})
    readings = max((response.readings for response in story.study.responses), default=1)
    return say(
        "{n_items}, {n_recipes}, {n_readings} of each {item}. Draw by chance which {item} "
        "gets which recipe, the order of making, and again the order of measuring.",
        n_items=capital(count(len(story.plan.rows), story.item)),
        n_recipes=count(recipes, say("recipe")),
        n_readings=count(readings, say("reading")),
        item=story.item,
    )


def _program(story: Story) -> str:
    parts = story.plan.parts
    tried = "" if len(parts) < 2 else say(" (its first part)")
    first = parts[0].items if parts else len(story.plan.rows)
    items = "" if first == _unasked(story) else f" --items {first}"
    return say(
        "Copy study.toml into a new folder. 'trials plan FOLDER --seed {seed}{items}' "
        "draws this very plan again{tried}, with version {program_version}. Without "
        "--seed it draws a fresh one, which is the better repeat. 'trials export' packs plan, "
        "readings and decisions, so that others can check every number.",
        seed=story.plan.seed,
        items=items,
        tried=tried,
        program_version=story.plan.program_version,
    )


def _unasked(story: Story) -> int | None:
    """Return how many items study.toml gives by itself; None where it must be told."""
    try:
        return amount(story.study).items
    except TrialsError:
        return None
