"""How it was done, for judges and teachers: design, record, analysis, origin."""

from __future__ import annotations

from collections.abc import Mapping

from trials.analysis.findings import ResponseFindings
from trials.design.values import Plan
from trials.render.blocks import Block, Bullets, Paragraph, Section
from trials.report.story import Story, short_code
from trials.report.tables import path_text
from trials.words.absent import FINISHED
from trials.words.alternatives import criterion_sentence, search_sentence, worth_sentence
from trials.words.bans import Ban, bans_sentence
from trials.words.families import told_name
from trials.words.language import say
from trials.words.methods import MethodFacts, method_sentences, note_text
from trials.words.missing import decisions_text
from trials.words.numbers import capital, count, layouts_text, listing, percent


def method_section(story: Story) -> Section:
    """Return how it was done: design, record and analysis."""
    blocks: list[Block] = [
        Paragraph(" ".join(_design(story)), say("Design")),
        Paragraph(" ".join(record_sentences(story)), say("Record")),
    ]
    told: set[str] = set()
    for found in story.responses:
        blocks += _analysis(story, found, told)
    blocks.append(Paragraph(f"{_verdict_rule()} {_level(story)}", say("Verdicts")))
    blocks.append(Paragraph(" ".join(origin_sentences(story)), say("Where it came from")))
    return Section("method", say("How it was done"), tuple(blocks))


def _analysis(story: Story, found: ResponseFindings, told: set[str]) -> list[Block]:
    """Tell the method of one response, but for what was told of an earlier one."""
    sentences = method_sentences(_method_facts(story, found))
    notes = tuple(dict.fromkeys(_notes(story, found)))
    fresh = [sentence for sentence in sentences if sentence not in told]
    text = " ".join(fresh)
    if len(fresh) < len(sentences):
        first = story.response_label(story.responses[0].name)
        text = (
            say("As for {first}.", first=first)
            if not fresh
            else say("As for {first}, but: {text}", first=first, text=text)
        )
    blocks: list[Block] = [
        Paragraph(
            text,
            say("Analysis of {response_label}", response_label=story.response_label(found.name)),
        )
    ]
    new_notes = tuple(note for note in notes if note not in told)
    if new_notes:
        blocks.append(Bullets(new_notes))
    told.update(sentences, notes)
    return blocks


def _design(story: Story) -> list[str]:
    plan, study = story.plan, story.study
    recipes = len({tuple(sorted(row.factors.items())) for row in plan.rows})
    parts = [
        say(
            "{factor} ({n_levels} versions, applied to each {unit})",
            factor=story.factor_label(factor.name),
            n_levels=len(factor.levels),
            unit=story.unit_group(factor.name) or story.item,
        )
        for factor in study.factors
    ]
    groups = [
        f"{count(len(group.members), story.group_label(group.path))}"
        + (say(" within {group}", group=story.group_label(group.within)) if group.within else "")
        for group in plan.groups
    ]
    sentences = [
        say(
            "{family}: {parts}; {n_recipes} on {n_items}.",
            family=capital(told_name(plan.family)),
            parts=listing(parts),
            n_recipes=count(recipes, say("recipe")),
            n_items=count(len(plan.rows), story.item),
        ),
        say("Groups: {groups}.", groups=listing(groups))
        if groups
        else say("No groups: each {item} on its own.", item=story.item),
        say("The order of making and, apart from it, the order of measuring were drawn by chance."),
        *filter(None, [bans_sentence([_told_ban(story, ban) for ban in plan.bans])]),
    ]
    sentences += _drawn_from(plan)
    if plan.search is not None:
        found = plan.search
        sentences += [
            criterion_sentence(found.criterion, found.worst_efficiency),
            say("It is proved best: its value meets a bound that no layout goes below.")
            if found.proved
            else search_sentence(found.proved, found.starts, found.efficiency),
        ]
    if plan.locked:
        first = say(", before any result was known") if story.locked_first else ""
        sentences.append(
            say("The plan was locked on {locked}{first}.", locked=plan.locked, first=first)
        )
    return sentences


def _drawn_from(plan: Plan) -> list[str]:
    """Return from how many layouts the plan was drawn, and with which seed."""
    n_seeds = count(len(plan.seeds_tried), say("seed"))
    if plan.shuffle.size is None:
        return [say("Seed {seed}; {n_seeds} tried.", seed=plan.seed, n_seeds=n_seeds)]
    layouts = layouts_text(plan.shuffle.size)
    if not plan.shuffle.exact:
        layouts = say("at least {layouts}", layouts=layouts)
    drawn = say(
        "The layout was drawn from {layouts} with equal chance (seed {seed}; {n_seeds} tried).",
        layouts=layouts,
        seed=plan.seed,
        n_seeds=n_seeds,
    )
    worth = plan.shuffle.worth
    return [drawn] if worth is None else [drawn, worth_sentence(worth.times)]


def _told_ban(story: Story, ban: Mapping[str, str]) -> Ban:
    """Return the versions that a ban names, and the members of groups that it holds for."""
    factors = {factor.name for factor in story.study.factors}
    return (
        [story.level(name, ban[name]) for name in ban if name in factors],
        [f"{story.group_label(name)} {ban[name]}" for name in ban if name not in factors],
    )


def record_sentences(story: Story) -> list[str]:
    """Return what was recorded, and what counts as failed."""
    sentences = []
    for found in story.responses:
        label = story.response_label(found.name)
        sentences.append(
            say(
                "{label}: {n_readings} of {n_items} that worked; {n_failed} failed, {lost}. "
                "Readings of one {item} were averaged and never count as replicates.",
                label=capital(label),
                n_readings=count(found.n_readings, say("reading")),
                n_items=count(found.n_items, story.item),
                n_failed=found.n_failed,
                lost=_lost(found),
                item=story.item,
            )
        )
        rule = story.study.response(found.name).failed
        if rule is not None and rule.text:
            sentences.append(say("Failed means, set beforehand: {text}", text=rule.text))
    if story.measured.finished:
        sentences.append(say(FINISHED))
    n, changed = len(story.measured.corrections), len(story.measured.corrected)
    sentences.append(
        f"{decisions_text(n, changed, story.item)}."
        if n
        else say("No number was changed or set aside.")
    )
    return sentences


def _lost(found: ResponseFindings) -> str:
    if not found.n_never_made:
        return say("{n_lost} lost", n_lost=found.n_lost)
    return say(
        "{n_lost} lost, {n_never} never made",
        n_lost=found.n_lost - found.n_never_made,
        n_never=found.n_never_made,
    )


def _method_facts(story: Story, found: ResponseFindings) -> MethodFacts:
    method = found.method
    tested = tuple(
        (story.term_label(effect.term), path_text(story, effect.stratum))
        for effect in found.effects
        if isinstance(effect.stratum, str)
    )
    return MethodFacts(
        estimator=method.estimator,
        df=method.df,
        sums=method.sums,
        bounded=method.bounded,
        scale=found.scale,
        confidence=story.confidence,
        adjustments=tuple(dict.fromkeys(one.adjustment for one in found.comparisons)),
        tested_on=tested,
        item=story.item,
    )


def _notes(story: Story, found: ResponseFindings) -> list[str]:
    labels = story.labels()
    told = [f"{capital(note_text(note, labels))}." for note in found.method.notes]
    for note in dict.fromkeys(note for effect in found.effects for note in effect.notes):
        terms = [story.term_label(e.term) for e in found.effects if note in e.notes]
        whose = say("every term") if len(terms) == len(found.effects) > 1 else "; ".join(terms)
        told.append(f"{capital(note_text(note, labels))} ({whose}).")
    return told


def _level(story: Story) -> str:
    level = percent(1 - story.confidence)
    return say(
        "Tests of pairs look to both sides; their level is {level}, that of the intervals.",
        level=level,
    )


def _verdict_rule() -> str:
    return say(
        "With d the smallest difference worth caring about, declared beforehand, and the "
        "simultaneous intervals of all pairs: 'mattered' if some interval lies wholly beyond d on "
        "either side; 'made no practical difference' if every interval lies inside, also within "
        "each version of every variable it may interact with; else 'not settled'. On the ratio "
        "scale the band runs from 1/d to d."
    )


def origin_sentences(story: Story) -> list[str]:
    """Return the check codes and the versions that made the report."""
    findings = story.findings
    return [
        say(
            "Plan check code {plan}, record check code {record}, study check code {study} (first "
            "letters of SHA-256 digests).",
            plan=short_code(story.plan.digest()),
            record=short_code(findings.record_digest),
            study=short_code(story.study.digest()),
        ),
        say(
            "Analysed with trials {before}; report made by trials {version} on {day}.",
            before=findings.program_version,
            version=story.version,
            day=story.today.isoformat(),
        ),
    ]
