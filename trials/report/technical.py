"""How it was done, for judges and teachers: design, record, analysis, origin."""

from __future__ import annotations

from collections.abc import Mapping

from trials.analysis.findings import ResponseFindings
from trials.render.blocks import Block, Bullets, Paragraph, Section
from trials.report.story import Story, short_code
from trials.report.tables import path_text
from trials.words.alternatives import criterion_sentence, search_sentence, worth_sentence
from trials.words.bans import Ban, bans_sentence
from trials.words.methods import MethodFacts, method_sentences, note_text
from trials.words.numbers import capital, count, layouts_text, listing, percent


def method_section(story: Story) -> Section:
    """Return how it was done: design, record and analysis."""
    blocks: list[Block] = [
        Paragraph(" ".join(_design(story)), "Design"),
        Paragraph(" ".join(record_sentences(story)), "Record"),
    ]
    told: set[str] = set()
    for found in story.responses:
        blocks += _analysis(story, found, told)
    blocks.append(Paragraph(f"{_verdict_rule()} {_level(story)}", "Verdicts"))
    blocks.append(Paragraph(" ".join(origin_sentences(story)), "Where it came from"))
    return Section("method", "How it was done", tuple(blocks))


def _analysis(story: Story, found: ResponseFindings, told: set[str]) -> list[Block]:
    """Tell the method of one response, but for what was told of an earlier one."""
    sentences = method_sentences(_method_facts(story, found))
    notes = tuple(dict.fromkeys(_notes(story, found)))
    fresh = [sentence for sentence in sentences if sentence not in told]
    text = " ".join(fresh)
    if len(fresh) < len(sentences):
        first = story.response_label(story.responses[0].name)
        text = f"As for {first}. {text}" if not fresh else f"As for {first}, but: {text}"
    blocks: list[Block] = [
        Paragraph(text.strip(), f"Analysis of {story.response_label(found.name)}")
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
        f"{story.factor_label(factor.name)} ({len(factor.levels)} versions, applied to "
        f"each {story.unit_group(factor.name) or story.item})"
        for factor in study.factors
    ]
    groups = [
        f"{count(len(group.members), story.group_label(group.path))}"
        + (f" within {story.group_label(group.within)}" if group.within else "")
        for group in plan.groups
    ]
    sentences = [
        f"{capital(plan.family)}: {listing(parts)}; {count(recipes, 'recipe')} on "
        f"{count(len(plan.rows), story.item)}.",
        f"Groups: {listing(groups)}." if groups else f"No groups: each {story.item} on its own.",
        "The order of making and, apart from it, the order of measuring were drawn by chance.",
        *filter(None, [bans_sentence([_told_ban(story, ban) for ban in plan.bans])]),
    ]
    if plan.shuffle.size is not None:
        bound = "" if plan.shuffle.exact else "at least "
        sentences.append(
            f"The layout was drawn from {bound}{layouts_text(plan.shuffle.size)} with "
            f"equal chance (seed {plan.seed}; {count(len(plan.seeds_tried), 'seed')} tried)."
        )
        if plan.shuffle.worth is not None:
            sentences.append(worth_sentence(plan.shuffle.worth.times))
    else:
        sentences.append(f"Seed {plan.seed}; {count(len(plan.seeds_tried), 'seed')} tried.")
    if plan.search is not None:
        found = plan.search
        sentences += [
            criterion_sentence(found.criterion, found.worst_efficiency),
            "It is proved best: its value meets a bound that no layout goes below."
            if found.proved
            else search_sentence(found.proved, found.starts, found.efficiency),
        ]
    if plan.locked:
        first = ", before any result was known" if story.locked_first else ""
        sentences.append(f"The plan was locked on {plan.locked}{first}.")
    return sentences


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
            f"{capital(label)}: {count(found.n_readings, 'reading')} of "
            f"{count(found.n_items, story.item)} that worked; {found.n_failed} failed, "
            f"{_lost(found)}. Readings of one {story.item} were averaged and never count as "
            "replicates."
        )
        rule = story.study.response(found.name).failed
        if rule is not None and rule.text:
            sentences.append(f"Failed means, set beforehand: {rule.text}")
    n = len(story.measured.corrections)
    sentences.append(f"{capital(count(n, 'value'))} corrected or set aside by hand.")
    return sentences


def _lost(found: ResponseFindings) -> str:
    if not found.n_never_made:
        return f"{found.n_lost} lost"
    return f"{found.n_lost - found.n_never_made} lost, {found.n_never_made} never made"


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
        whose = "every term" if len(terms) == len(found.effects) > 1 else "; ".join(terms)
        told.append(f"{capital(note_text(note, labels))} ({whose}).")
    return told


def _level(story: Story) -> str:
    level = percent(1 - story.confidence)
    return f"Tests of pairs look to both sides; their level is {level}, that of the intervals."


def _verdict_rule() -> str:
    return (
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
        f"Plan check code {short_code(story.plan.digest())}, record check code "
        f"{short_code(findings.record_digest)}, study check code "
        f"{short_code(story.study.digest())} (first letters of SHA-256 digests).",
        f"Analysed with trials {findings.program_version}; report made by trials {story.version} "
        f"on {story.today.isoformat()}.",
    ]
