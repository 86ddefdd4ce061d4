"""The first pages: what was asked, the answer in three sentences, the main figure, the ranking."""

from __future__ import annotations

from collections.abc import Sequence

from trials.analysis.findings import Comparison, Ranked, ResponseFindings
from trials.render.blocks import Block, Bullets, Paragraph, Remark, Section
from trials.render.table import Column, Table
from trials.report import plots
from trials.report.retold import made_told, moved_told, new_part_told, promised_told
from trials.report.story import (
    Story,
    cross_facts,
    main_effects,
    names_of,
    pair_effects,
    pair_of,
    slug,
    verdict_facts,
    verdict_on,
    verdict_told,
)
from trials.report.told import as_made_told, largest_pairs, what_it_hangs_on
from trials.study.values import Response
from trials.words.answering import answer_sentences
from trials.words.board import nothing_worked, set_beforehand
from trials.words.checks import hanging_sentence
from trials.words.comparing import gap_with_range, margin
from trials.words.crossing import crossing_sentence, distinct
from trials.words.extending import AFTER_LOOKING
from trials.words.language import say, say_as
from trials.words.missing import at_least_sentence, gone_words, missing_sentence
from trials.words.numbers import capital, count, listing, plural, repeats_of_ten
from trials.words.sentences import MATTERED, verdict_sentence

_LEAST = 0.005  # share of variation that a pair of variables must add to be listed

_SOME = 0.05  # share of repeats in which a variable must come first to be told


def question_section(story: Story) -> Section:
    """Return what was asked, what was changed and measured, and what stayed the same."""
    study = story.study
    blocks: list[Block] = [Paragraph(study.question)]
    if study.prediction:
        blocks.append(Paragraph(study.prediction, say("Prediction")))
    blocks += [_changed(story), *(_measured(story, response) for response in study.responses)]
    if study.same:
        blocks.append(Paragraph(say("Kept the same for every {item}:", item=story.item)))
        blocks.append(Bullets(study.same))
    return Section("question", say("The question"), tuple(blocks))


def _changed(story: Story) -> Table:
    columns = (
        Column("variable"),
        Column("versions"),
        Column("given", "each version given to"),
    )
    rows = tuple(
        (
            story.factor_label(factor.name),
            listing([story.short_level(factor.name, level) for level in factor.levels]),
            say("a whole {unit}", unit=unit)
            if (unit := story.unit_group(factor.name))
            else say("one {item}", item=story.item),
        )
        for factor in story.study.factors
    )
    return Table("changed", say("What was changed"), columns, rows)


def _measured(story: Story, response: Response) -> Paragraph:
    label = story.response_label(response.name)
    unit = f" ({response.unit})" if response.unit and response.unit != "1" else ""
    better = say("less is better") if response.better == "low" else say("more is better")
    how = (
        say("by how many times as much")
        if response.compare == "ratio"
        else say("by the difference")
    )
    text = say(
        "{label}{unit}; {better}; compared {how}.", label=label, unit=unit, better=better, how=how
    )
    if response.worthwhile is not None:
        care = margin(response.worthwhile, response.compare, response.unit)
        text += f" {set_beforehand(care)}"
    return Paragraph(text, say("Measured"))


def answer_section(story: Story, found: ResponseFindings | None) -> Section:
    """Return the answer in three sentences, and what it rests on."""
    if found is None:
        nothing = Paragraph(nothing_worked(story.item))
        return Section(
            "answer", say("The answer"), (Remark("answer", say("In short"), (nothing,)),)
        )
    title = say("In short, for {response}", response=story.response_label(found.name))
    if found.n_failed:
        title += say(" of the {items} that worked", items=plural(story.item))
    if found.verdicts:
        facts = tuple(verdict_facts(story, found, verdict) for verdict in found.verdicts)
        told = tuple(Paragraph(text, lead) for lead, text in answer_sentences(facts))
    else:
        told = answer_without_margin(story, found)
    told = (
        *(Paragraph(text, say("A whole version is missing")) for text in missing(story, found)),
        *told,
    )
    still = len(story.measured.open_questions)
    open_ = (
        (
            Remark(
                "note",
                say("1 question is still open")
                if still == 1
                else say("{n} questions are still open", n=still),
                (
                    Paragraph(
                        say("The answer may change when they are settled: see what went wrong.")
                    ),
                ),
            ),
        )
        if still
        else ()
    )
    return Section(
        "answer",
        say("The answer"),
        (
            *open_,
            *_at_least(story, found),
            Remark("answer", title, told),
            *_firm(story, found),
            *beside_the_answer(story, found),
            *_predicted(story),
            Paragraph(rests_on(story, found)),
            Paragraph(may_we_say_caused(story, found)),
        ),
    )


def beside_the_answer(story: Story, found: ResponseFindings) -> tuple[Paragraph, ...]:
    """Return what other answer there is, by what was changed, added, made or decided otherwise."""
    return (
        *_changed_afterwards(story, found),
        *_after_looking(story, found),
        *_as_made(story, found),
        *_moved(story, found),
    )


def _at_least(story: Story, found: ResponseFindings) -> tuple[Block, ...]:
    """Tell that all numbers are ranks, where some values are only known as 'at least'."""
    if found.ranked is None:
        return ()
    known = len(found.ranked.items)
    label = story.response_label(found.name)
    text = at_least_sentence(known, found.n_items, story.item, label)
    title = say("{label} is told by ranks", label=capital(label))
    return (Remark("note", title, (Paragraph(text),)), _typical(story, found, found.ranked))


def _typical(story: Story, found: ResponseFindings, ranked: Ranked) -> Table:
    """Return what half of the items of each version reached, at least or just so."""
    columns = (
        Column("variable"),
        Column("version"),
        Column("count", plural(story.item), kind="count"),
        Column("open", "only known as at least", kind="count"),
        Column("sure", "the middle one"),
        Column("median", story.response_label(found.name), ranked.unit, "significant", 3),
    )
    rows = tuple(
        (
            story.factor_label(one.factor),
            story.short_level(one.factor, one.level),
            one.count,
            one.at_least,
            say("exactly") if one.exact else say("at least"),
            one.median,
        )
        for one in ranked.levels
    )
    note = say(
        "The middle one: half of the {items} of this version reached so much.",
        items=plural(story.item),
    )
    caption = say("What half of the {items} reached", items=plural(story.item))
    return Table(f"{slug(found.name)}-at-least", caption, columns, rows, (note,), heads=2)


def _firm(story: Story, found: ResponseFindings) -> tuple[Paragraph, ...]:
    """Tell what single thing would change an answer if it were left out, or that none would."""
    told = what_it_hangs_on(found, names_of(story, found))
    return (Paragraph(" ".join(told), say("How firmly it stands")),) if told else ()


def _changed_afterwards(story: Story, found: ResponseFindings) -> tuple[Paragraph, ...]:
    """Tell what other answer study.toml would give, where it was changed after the plan."""
    if not found.other_verdicts:
        return ()
    text = say(
        "The answer above is by what was set before anything was measured. study.toml was changed "
        "since. {verdicts}",
        verdicts=" ".join(promised_told(story, found, other) for other in found.other_verdicts),
    )
    return (Paragraph(text, say("Changed afterwards")),)


def _after_looking(story: Story, found: ResponseFindings) -> tuple[Paragraph, ...]:
    """Tell that items were added with results known, and what these say by themselves."""
    if "after_looking" not in found.method.notes:
        return ()
    alone = new_part_told(story, found)
    told = (
        say(" By itself it says: {alone}", alone=alone)
        if alone
        else say(" By itself it is too small to tell.")
    )
    return (Paragraph(f"{say(AFTER_LOOKING)}{told}", say("After looking")),)


def _as_made(story: Story, found: ResponseFindings) -> tuple[Paragraph, ...]:
    """Tell what other answer stands by what was really made, where some were made otherwise."""
    made = found.as_made
    if made is None:
        return ()
    gaps = _largest(story, found, made.comparisons)
    text = as_made_told(found, made, gaps, made_told(story, found))
    return (Paragraph(text, say("As planned and as made")),)


def _moved(story: Story, found: ResponseFindings) -> tuple[Paragraph, ...]:
    """Tell which verdicts rest on one decision about the readings."""
    if not found.moved_verdicts:
        return ()
    told = " ".join(moved_told(story, found, moved) for moved in found.moved_verdicts)
    text = say("{told} So look again at how sure that decision is.", told=told)
    return (Paragraph(text, say("What rests on one decision")),)


def _predicted(story: Story) -> tuple[Paragraph, ...]:
    """Repeat the prediction beside the answer; it is free text, so a person must hold them up."""
    said = story.study.prediction.strip()
    if not said:
        return ()
    said = said if said.endswith((".", "!", "?")) else f"{said}."
    return (
        Paragraph(
            say(
                "\u201c{said}\u201d Compare this with the answer: does it agree, disagree, or "
                "can't the data tell? 'Not settled' speaks neither for it nor against it.",
                said=said,
            ),
            say("Your prediction was"),
        ),
    )


def missing(story: Story, found: ResponseFindings) -> list[str]:
    """Return what is to be said of every version that gave no value at all."""
    return [
        missing_sentence(
            story.level(one.factor, one.level),
            story.factor_label(one.factor),
            story.item,
            one.planned,
            (one.failed, one.lost, one.never_made),
        )
        for one in found.missing_levels
    ]


def answer_without_margin(story: Story, found: ResponseFindings) -> tuple[Paragraph, ...]:
    """Return the largest differences, where no verdict can be given for want of a margin."""
    told = _largest(story, found, found.comparisons)
    together = distinct([cross_facts(story, found, one) for one in found.crossings])
    text = say(
        "No smallest difference worth caring about was set, so nothing can be called settled. Set "
        "it before the next study."
    )
    return (
        Paragraph(
            f"{capital('; '.join(told))}." if told else say("None."), say("Largest differences")
        ),
        *(Paragraph(crossing_sentence(one), say("But note")) for one in together),
        Paragraph(text, say("Verdict")),
    )


def _largest(story: Story, found: ResponseFindings, comparisons: Sequence[Comparison]) -> list[str]:
    """Return the largest difference of each variable, in the order of the study."""
    pairs = largest_pairs(comparisons)
    return [
        f"{story.factor_label(factor.name)}: "
        f"{gap_with_range(pair_of(story, found, factor.name, pairs[factor.name]))}"
        for factor in story.study.factors
        if factor.name in pairs
    ]


def rests_on(story: Story, found: ResponseFindings) -> str:
    """Return how many items the answer rests on, and what became of the others."""
    planned = len(story.plan.rows)
    text = say(
        "The answer rests on {n_items} that worked, of {planned} planned",
        n_items=count(found.n_items, story.item),
        planned=planned,
    )
    other = planned - found.n_items - found.n_failed - found.n_lost
    gone = gone_words(found.n_failed, found.n_lost, found.n_never_made, other)
    return f"{text}{f' ({listing(gone)})' if gone else ''}."


def may_we_say_caused(story: Story, found: ResponseFindings) -> str:
    """Say whether a difference may be put down to the variable, and why."""
    mattered = [story.factor_label(v.factor) for v in found.verdicts if v.verdict == MATTERED]
    factors = listing(mattered) or say("a variable")
    if not story.plan.by_lot:
        return say(
            "May we say that {factors} did it? No: only one layout kept all the rules, so chance "
            "did not decide which {item} got which version. So we only say that a difference "
            "'went with' a variable.",
            factors=factors,
            item=story.item,
        )
    if found.n_failed:
        return say(
            "May we say that {factors} did it? Not quite: chance decided which {item} got which "
            "version, but some failed, perhaps more of one version than of another, and only "
            "those that worked are compared. So among them we only say that a difference 'went "
            "with' a variable.",
            factors=factors,
            item=story.item,
        )
    return say(
        "May we say that {factors} did it? Yes: which {item} got which version was left to "
        "chance, so a clear difference may be called caused by the variable.",
        factors=factors,
        item=story.item,
    )


def seen_section(story: Story, found: ResponseFindings) -> Section:
    """Return the main figure with a word on how to read it."""
    text = say(
        "Each dot is one {item}. The thick dash is the average of a version, and the bar is "
        "its range of doubt. Look first at how far the dots of one version spread: a difference "
        "between versions has to stand out from that.",
        item=story.item,
    )
    return Section(
        f"{slug(found.name)}-seen",
        say("What we saw"),
        (Paragraph(text), plots.overview(story, found)),
    )


def which_section(story: Story, found: ResponseFindings) -> Section:
    """Return which variable mattered most: each against what is worth caring about, and shares."""
    blocks: list[Block] = []
    chart = plots.what_mattered(story, found)
    if chart is not None:
        blocks.append(chart)
    blocks.append(_shares(story, found))
    ranks = _ranks(story, found)
    if ranks:
        blocks.append(Paragraph(ranks))
    return Section(f"{slug(found.name)}-which-part", say("Which variable mattered"), tuple(blocks))


def _shares(story: Story, found: ResponseFindings) -> Table:
    columns = (
        Column("variable"),
        Column("share", "share of variation", "%", "percent"),
        Column("verdict"),
    )
    rows: list[tuple[str, float | None, str]] = []
    for effect in main_effects(story, found):
        verdict = verdict_on(found, effect.term)
        label = story.factor_label(effect.term)
        told = verdict_told(story, found, verdict) if verdict else say_as("verdict", "none")
        rows.append((label, effect.share_of_variance, told))
    pairs = pair_effects(story, found)
    shown = [e for e in pairs if e.share_of_variance is None or e.share_of_variance >= _LEAST]
    rows += [
        (
            say("{variables} (what they add together)", variables=story.term_label(effect.term)),
            effect.share_of_variance,
            "",
        )
        for effect in shown
    ]
    note = say(
        "The rest is how {items} of one recipe still came out different. Other "
        "versions would give other shares.",
        items=plural(story.item),
    )
    if len(shown) < len(pairs):
        note += say(" Pairs of variables that add less than 1\u00a0% are left out.")
    caption = say("Share of variation for the versions you tried")
    return Table(f"{slug(found.name)}-shares", caption, columns, tuple(rows), (note,))


def _ranks(story: Story, found: ResponseFindings) -> str:
    """Tell how often each variable came first in repeats drawn from what was found."""
    ranks = found.diagnostics.get("rank_frequencies")
    if not isinstance(ranks, dict):
        return ""
    firsts = {
        name: shares[0]
        for name, shares in ranks.items()
        if isinstance(shares, list | tuple) and shares
    }
    order = [name for name in sorted(firsts, key=lambda n: -firsts[n]) if firsts[name] >= _SOME]
    if not order:
        return ""
    told = [f"{story.term_label(name)} {repeats_of_ten(firsts[name])}" for name in order[1:]]
    first = say(
        "{variable} would come first {repeats}",
        variable=story.term_label(order[0]),
        repeats=repeats_of_ten(firsts[order[0]]),
    )
    return say(
        "In imagined repeats of the study, drawn from its own numbers, {places}.",
        places=listing([first, *told]),
    )


def other_responses(story: Story) -> tuple[Section, ...]:
    """Return a short part for each response that isn't the main one."""
    return tuple(_other(story, found) for found in story.responses[1:])


def _other(story: Story, found: ResponseFindings) -> Section:
    label = story.response_label(found.name)
    blocks: list[Block] = [
        Paragraph(
            say(
                "This was not the main thing measured, so take it as a hint. {rests_on}",
                rests_on=rests_on(story, found),
            )
        )
    ]
    blocks += _at_least(story, found)
    blocks += [
        Paragraph(verdict_sentence(verdict_facts(story, found, verdict)))
        for verdict in found.verdicts
    ]
    if not found.verdicts:
        blocks += list(answer_without_margin(story, found))
    hanging = hanging_sentence(found.diagnostics, names_of(story, found)) if found.verdicts else ""
    if hanging:
        blocks.append(Paragraph(hanging, say("How firmly it stands")))
    blocks.append(plots.overview(story, found).smaller())
    chart = plots.what_mattered(story, found)
    if chart is not None:
        blocks.append(chart.smaller())
    return Section(
        f"{slug(found.name)}-other", say("Also measured: {response}", response=label), tuple(blocks)
    )


def recipe(story: Story, item: str) -> str:
    """Return the versions that an item was to get, in words."""
    return story.levels(story.plan.row(item).factors)
