"""How to repeat it: the making step by step, and what draws the same plan again."""

from __future__ import annotations

from trials.design.treatments import amount
from trials.errors import TrialsError
from trials.render.blocks import Block, Bullets, Paragraph, Section
from trials.report.story import Story
from trials.study.values import Step
from trials.words.numbers import capital, count, given, listing, plural


def again_section(story: Story) -> Section:
    """Return what another class needs to do the same."""
    study = story.study
    blocks: list[Block] = []
    if study.steps:
        blocks.append(Paragraph("Read the cautions above first. Then, step by step:"))
        blocks.append(Bullets(tuple(_step(story, step) for step in study.steps), numbered=True))
    told = tuple(
        f"{capital(story.level(factor.name, level))}: {factor.how[level]}"
        for factor in study.factors
        for level in factor.levels
        if level in factor.how
    )
    if told:
        blocks.append(Paragraph(f"The {plural(story.item)} differ in this only:"))
        blocks.append(Bullets(told))
    blocks.append(Paragraph(_order(story), "Order and number"))
    blocks.append(Paragraph(_program(story), "With the program"))
    return Section("again", "How to repeat it", tuple(blocks))


def _step(story: Story, step: Step) -> str:
    text = f"{step.label or step.name}: {step.text}" if step.text else f"{step.label or step.name}."
    text = text if text.endswith((".", "!", "?")) else f"{text}."
    times = [
        f"{given(minutes, 'min')} of {what}"
        for minutes, what in ((step.minutes, "work"), (step.waiting, "waiting"))
        if minutes
    ]
    given_to: dict[str, list[str]] = {}
    for name in step.factors:
        unit = story.unit_group(name) or story.item
        given_to.setdefault(unit, []).append(story.factor_label(name))
    chosen = "".join(
        f" Here each {unit} gets its {listing(labels)}." for unit, labels in given_to.items()
    )
    return f"{text}{f' ({listing(times)})' if times else ''}{chosen}"


def _order(story: Story) -> str:
    recipes = len({tuple(sorted(row.factors.items())) for row in story.plan.rows})
    readings = max((response.readings for response in story.study.responses), default=1)
    return (
        f"{capital(count(len(story.plan.rows), story.item))}, {count(recipes, 'recipe')}, "
        f"{count(readings, 'reading')} of each {story.item}. Draw by chance which {story.item} "
        "gets which recipe, the order of making, and again the order of measuring."
    )


def _program(story: Story) -> str:
    parts = story.plan.parts
    tried = "" if len(parts) < 2 else " (its first part)"
    first = parts[0].items if parts else len(story.plan.rows)
    items = "" if first == _unasked(story) else f" --items {first}"
    return (
        f"Copy study.toml into a new folder. 'trials plan FOLDER --seed {story.plan.seed}{items}' "
        f"draws this very plan again{tried}, with version {story.plan.program_version}. Without "
        "--seed it draws a fresh one, which is the better repeat. 'trials export' packs plan, "
        "readings and decisions, so that others can check every number."
    )


def _unasked(story: Story) -> int | None:
    """Return how many items study.toml gives by itself; None where it must be told."""
    try:
        return amount(story.study).items
    except TrialsError:
        return None
