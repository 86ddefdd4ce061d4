"""What the study can't tell, what went wrong, what to do next, and the cautions."""

from __future__ import annotations

from trials.analysis.findings import ResponseFindings
from trials.design.looks import look_left
from trials.record.values import Question
from trials.render.blocks import Block, Bullets, Paragraph, Remark, Section
from trials.render.table import Cell, Column, Table
from trials.report.answer import recipe
from trials.report.confirming import has_best_recipe, winner_check
from trials.report.retold import finding_told
from trials.report.story import Story, verdict_facts
from trials.words.cautions import FIRST, NONE_GIVEN, code_text, sorted_codes
from trials.words.extending import fairly_added
from trials.words.language import marked, say
from trials.words.missing import AlikeFacts, alike_sentences, worst_sentence
from trials.words.numbers import capital, chance_of, count, listing, plural
from trials.words.placing import DEPARTED
from trials.words.sentences import NOT_SETTLED, settle_sentence

NOTHING_TO_DO = marked("Write down what you would try next, and why.")


def limits_section(story: Story, found: ResponseFindings | None) -> Section:
    """Return what the study can't tell."""
    items = plural(story.item)
    told = [
        say(
            "Nothing here speaks for versions that were not tried, or for other places, people and "
            "materials."
        ),
    ]
    if found is not None:
        told += _open(story, found)
        told += _gone(story, found)
    for response in story.study.responses:
        label = capital(story.response_label(response.name))
        told += [f"{label}: {note}." for note in story.remarks(response.name)[0]]
    if len(story.study.factors) > 2:
        told.append(
            say(
                "The answer looks at variables one by one and two at a time. Three that act only "
                "together would be missed."
            )
        )
    for factor in story.study.factors:
        if factor.shared:
            told.append(
                say(
                    "Several {items} shared one batch of {factor_label}, so a good "
                    "or bad batch can't be told from the version.",
                    items=items,
                    factor_label=story.factor_label(factor.name),
                )
            )
    told += [
        finding_told(finding)
        for finding in story.plan.audit
        if finding.message and finding.severity != "note"
    ]
    return Section("limits", say("What we can't tell"), (Bullets(tuple(told)),))


def _open(story: Story, found: ResponseFindings) -> list[str]:
    open_ = [v.factor for v in found.verdicts if v.verdict == NOT_SETTLED and v.reason != "depends"]
    told = []
    if open_:
        names = listing([story.factor_label(name) for name in open_])
        told.append(
            say(
                "Whether {names} matters is not settled. "
                "'Not settled' does not mean 'no difference'.",
                names=names,
            )
            if len(open_) == 1
            else say(
                "Whether {names} matter is not settled. "
                "'Not settled' does not mean 'no difference'.",
                names=names,
            )
        )
    told += [
        say(
            "The part of {term_label} could not be worked out: too "
            "many of its {items} are missing.",
            term_label=story.term_label(term.partition(": ")[0]),
            items=plural(story.item),
        )
        for term in found.not_estimable
    ]
    weak = {e.term for e in found.effects if "hardly_any_information" in e.notes}
    told += [
        say("For {term_label} there is hardly any information.", term_label=story.term_label(term))
        for term in sorted(weak)
    ]
    return told


def _gone(story: Story, found: ResponseFindings) -> list[str]:
    told = []
    items = plural(story.item)
    if found.n_failed:
        told.append(
            say(
                "All averages are of the {items} that worked. A version that fails often may look "
                "better than it is.",
                items=items,
            )
        )
    for note in found.method.notes:
        kind, _, path = note.partition(":")
        if kind == "fixed_group":
            label = plural(story.group_label(path))
            told.append(
                say(
                    "The averages are for these {label} only, not for {label} in general.",
                    label=label,
                )
            )
    return told


def trouble_section(story: Story) -> Section:
    """Return what went wrong: lost, failed, questions, corrections, departures."""
    blocks: list[Block] = []
    blocks += _missing(story)
    if story.responses and story.responses[0].n_failed and story.responses[0].failures:
        blocks.append(_failures(story, story.responses[0]))
        blocks += _alike(story, story.responses[0])
        blocks += [Paragraph(text) for text in _counted_as_worst(story, story.responses[0])]
    measured = story.measured
    if measured.open_questions:
        blocks.append(Paragraph(say("These questions about the data are still open:")))
        blocks.append(Bullets(tuple(_question(q) for q in measured.open_questions)))
    if measured.corrections:
        text = say(
            "These values or labels were corrected or set aside. What was first written is kept in "
            "the record:"
        )
        blocks.append(Paragraph(text))
        blocks.append(Bullets(measured.corrections))
    if measured.departures:
        blocks.append(Paragraph(say(DEPARTED)))
        blocks.append(Bullets(measured.departures))
    if not blocks:
        blocks.append(Paragraph(say("Nothing that we know of.")))
    return Section("trouble", say("What went wrong"), tuple(blocks))


def _question(question: Question) -> str:
    where = (
        say("{file}, row {row}", file=question.file, row=question.row)
        if question.row
        else question.file
    )
    return f"{question.id} ({where}): {question.why_told}"


def _missing(story: Story) -> list[Block]:
    """List every item that gave no value for some response, once for each reason."""
    rows: list[tuple[str, str, str, str]] = []
    seen: set[tuple[str, str]] = set()
    for response in story.study.responses:
        statuses = story.statuses(response.name)
        for plan_row in story.plan.rows:
            value = statuses.get(plan_row.item)
            status = value.status if value else "unmeasured"
            if status in ("measured", "at least") or (plan_row.item, status) in seen:
                continue
            seen.add((plan_row.item, status))
            why = value.reason if value else ""
            told = say("never made") if value and value.never_made else say(_STATUS[status])
            rows.append((plan_row.item, recipe(story, plan_row.item), told, why))
    if not rows:
        return []
    columns = (
        Column("item", story.item),
        Column("recipe"),
        Column("happened", say("what happened")),
        Column("why"),
    )
    caption = say("{items} that gave no value", items=capital(plural(story.item)))
    return [Table("missing", caption, columns, tuple(rows))]


_STATUS = {
    "failed": marked("made, but does not work"),
    "lost": marked("lost"),
    "unmeasured": marked("not measured"),
    "set aside": marked("set aside"),
}


def _failures(story: Story, found: ResponseFindings) -> Table:
    columns = (
        Column("variable"),
        Column("version"),
        Column("made and tested", kind="count"),
        Column("failed", kind="count"),
        Column("chance", say("a split this uneven by chance")),
    )
    rows: list[tuple[Cell, ...]] = []
    for table in found.failures:
        chance = "" if table.p is None else say("in {p}", p=chance_of(table.p))
        for index, (level, made) in enumerate(table.made.items()):
            label = story.factor_label(table.factor)
            version = story.short_level(table.factor, level)
            failed = table.failed.get(level, 0)
            rows.append((label, version, made, failed, chance if index == 0 else ""))
    caption = say("{items} that failed, by version", items=capital(plural(story.item)))
    note = say("By chance: if the variable had nothing to do with failing.")
    return Table("failed", caption, columns, tuple(rows), (note,), heads=2)


def _alike(story: Story, found: ResponseFindings) -> list[Block]:
    """Tell what failed items share beyond one variable, which the table can't show."""
    alike = found.failed_alike
    if alike is None:
        return []
    facts = AlikeFacts(
        item=story.item,
        versions=[story.level(factor, level) for factor, level in alike.levels.items()],
        made=alike.made,
        failed=alike.failed,
        of_made=alike.of_made,
        of_failed=alike.of_failed,
        p=alike.p,
        alpha=1 - story.confidence,
    )
    return [Paragraph(alike_sentences(facts), say("What they share"))]


def _counted_as_worst(story: Story, found: ResponseFindings) -> list[str]:
    """Return where counting failed items as the worst of all gives another answer of chance.

    Both answers are those of the plan's own shuffle, so that nothing but the failed items differs.
    """
    level = 1 - story.confidence
    tests = {effect.term: effect.p_randomisation for effect in found.effects}
    out = []
    for table in found.failures:
        p, worst = tests.get(table.factor), table.p_as_worst
        if p is not None and worst is not None and (p < level) != (worst < level):
            out.append(
                worst_sentence(
                    story.factor_label(table.factor), plural(story.item), stands_out=worst < level
                )
            )
    return out


def next_section(story: Story, found: ResponseFindings | None) -> Section:
    """Return what to do next, in order."""
    todo = first_steps(story, found)
    if found is not None:
        todo += _settle(story, found)
    if not todo:
        todo.append(say(NOTHING_TO_DO))
    return Section("next", say("What to do next"), (Bullets(tuple(todo), numbered=True),))


def first_steps(story: Story, found: ResponseFindings | None) -> list[str]:
    """Return what to do before a new study: settle questions, find out, check the winner."""
    todo: list[str] = []
    if story.measured.open_questions:
        n = len(story.measured.open_questions)
        todo.append(
            say(
                "Settle the {n_says} about the data above, then make this report again.",
                n_says=count(n, say("open question")),
            )
        )
    if found is None:
        todo.append(
            say("Find out why no {item} gave a value, with a few practice ones.", item=story.item)
        )
    else:
        todo += [
            say(
                "Find out why no {item} with {level} gave a value, "
                "with a few practice ones, before you compare it again.",
                item=story.item,
                level=story.level(one.factor, one.level),
            )
            for one in found.missing_levels
        ]
        if found.ranked is not None:
            todo.append(
                say(
                    "Watch longer next time, until nearly all {items} have come to an "
                    "end: then it can be said by how much versions differ.",
                    items=plural(story.item),
                )
            )
        todo += _confirm(story, found)
    return todo


def _confirm(story: Story, found: ResponseFindings) -> list[str]:
    """Return the check run of what was decided, in the words of where it is told at length."""
    check = winner_check(story, found)
    if check is None:
        return []
    if has_best_recipe(story, found):  # all of it is told where the recipe is
        return [say("Check the winner. {check}", check=check.brief)]
    told = say("Check the winner. {check}", check=check)
    return [told + say(" The best of several is likely a little too good.")]


def _settle(story: Story, found: ResponseFindings) -> list[str]:
    open_ = [v for v in found.verdicts if v.verdict == NOT_SETTLED]
    told = []
    for verdict in open_:
        facts = verdict_facts(story, found, verdict)
        way_out = settle_sentence(facts).strip()
        if way_out:
            told.append(f"{capital(facts.factor)}: {way_out[0].lower()}{way_out[1:]}")
    if told:
        told.append(fairly_added(declared=look_left(story.study, story.plan)))
    return told


def cautions_section(story: Story) -> Section:
    """Return the cautions of every step, before anyone makes more."""
    steps = [step for step in story.study.steps if step.cautions]
    if not steps:
        return Section("cautions", say("Cautions"), (Paragraph(say(NONE_GIVEN)),))
    blocks: list[Block] = [Paragraph(say(FIRST))]
    for step in steps:
        lines = []
        for caution in step.cautions:
            codes = [code_text(code) for code in sorted_codes((*caution.iso7010, *caution.ghs))]
            lines.append(f"{caution.text} ({'; '.join(codes)})" if codes else caution.text)
        title = capital(step.label or step.name)
        blocks.append(Remark("caution", title, (Bullets(tuple(lines)),)))
    return Section("cautions", say("Cautions"), tuple(blocks))
