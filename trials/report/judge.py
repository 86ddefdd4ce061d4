"""The judge's page: twelve questions, this study's answers, and room for one's own words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from types import MappingProxyType

from trials.analysis.findings import Effect, ResponseFindings, Verdict
from trials.render.blocks import Block, Document, Lines, Paragraph, Part, Remark, Section
from trials.report.confirming import winner_check
from trials.report.story import (
    Story,
    cross_facts,
    foot,
    judged_of,
    main_effects,
    pair_of,
    verdict_facts,
    verdict_on,
)
from trials.report.told import largest_pairs
from trials.study.values import TakenSpread
from trials.words import judge as words
from trials.words import judge_found
from trials.words.board import nothing_worked
from trials.words.certificate import CERTIFICATE, RuledOut, certificate_told
from trials.words.comparing import Pair, margin
from trials.words.language import say
from trials.words.numbers import layouts_text, plural, significant, times, with_unit
from trials.words.sentences import MATTERED, NOT_SETTLED

_ROOM = 3  # lines to write on below each answer


def judge_document(story: Story) -> Document:
    """Return the judge's page of a study; the same study gives an equal document."""
    found = story.responses[0] if story.responses else None
    first: list[Block] = [Paragraph(say(words.INTRO))]
    told = certificate(story, found)
    if told is not None:
        line, gloss = told
        body = (Paragraph(line), Paragraph(gloss))
        first.append(Remark("answer", say(CERTIFICATE), body))
    asked = tuple(
        _asked(story, number, key, _ANSWERS[key](story, found))
        for number, key in enumerate(words.QUESTIONS, start=1)
    )
    how = Section("how", say("How to use this page"), tuple(first))
    part = Part("judge", say(words.TITLE), "", (how, *asked))
    return Document(
        title=story.study.title,
        subtitle=story.study.makers,
        note=story.study.note,
        foot=foot(story),
        parts=(part,),
    )


def _asked(story: Story, number: int, key: str, told: words.Told) -> Section:
    question = say(words.QUESTIONS[key], item=story.item, items=plural(story.item))
    blocks = (Paragraph(" ".join(told)), Lines(_ROOM, say(words.OWN_WORDS)))
    return Section(f"judge-{key}", f"{number}. {question}", blocks, together=True)


def certificate(story: Story, found: ResponseFindings | None) -> words.Told | None:
    """Return what a fair test is worth that settles nothing; None where it would not be true.

    It takes that the plan had nothing that spoils the comparison, that no question about the data
    is open, that nothing was added after looking without having said so, and a range of doubt.
    """
    if found is None or not found.verdicts or found.ranked is not None:
        return None
    settled = any(v.verdict != NOT_SETTLED or v.reason == "depends" for v in found.verdicts)
    stopped = any(finding.severity == "stop" for finding in story.plan.audit)
    unsure = story.measured.open_questions or "after_looking" in found.method.notes
    if settled or stopped or unsure or not story.plan.by_lot:
        return None
    gone = {one.factor for one in found.missing_levels}
    reach = {
        v.factor: None if v.factor in gone else _furthest(story, found, v.factor)
        for v in found.verdicts
    }
    ruled_out = [
        RuledOut(story.factor_label(factor), *size, found.scale, found.unit)
        for factor, size in reach.items()
        if size is not None
    ]
    if not ruled_out:
        return None
    silent = [story.factor_label(factor) for factor, size in reach.items() if size is None]
    return certificate_told(
        ruled_out,
        silent,
        story.response_label(found.name),
        story.confidence,
        plural(story.item) if found.n_failed else "",
    )


def _furthest(story: Story, found: ResponseFindings, factor: str) -> tuple[float, int] | None:
    """Return the furthest end of a variable's ranges, and its decimals; None if one has no end."""
    ends = []
    for one in judged_of(found, factor):
        pair = pair_of(story, found, factor, one)
        low, high = pair.interval
        if low is None or high is None or (found.scale == "ratio" and low <= 0):
            return None
        turned = 1 / low if found.scale == "ratio" else -low
        ends.append((max(turned, high), pair.larger_first().decimals))
    return max(ends, default=None)


# ---- the answers ---------------------------------------------------------------------------------


def _why(story: Story, _: ResponseFindings | None) -> words.Told:
    return words.why_told(story.study.question, story.study.prediction)


def _changed(story: Story, _: ResponseFindings | None) -> words.Told:
    name = story.main_response
    return words.changed_told(
        words.SetUpFacts(
            variables=tuple(
                (story.factor_label(factor.name), len(factor.levels))
                for factor in story.study.factors
            ),
            response=story.response_label(name),
            unit=story.study.response(name).unit,
            same=story.study.same,
            item=story.item,
        )
    )


def _many(story: Story, _: ResponseFindings | None) -> words.Told:
    name = story.main_response
    spread = story.study.response(name).spread
    return words.many_told(
        words.ManyFacts(
            item=story.item,
            planned=len(story.plan.rows),
            on=tuple(_units_of(story, factor.name) for factor in story.study.factors),
            shows=_shows(story, name),
            from_practice=isinstance(spread, TakenSpread)
            or (spread is not None and spread.source == "practice run"),
        )
    )


def _units_of(story: Story, factor: str) -> tuple[str, str, int, int]:
    """Return a variable, what it is given to, and on how many each version is, fewest and most."""
    group = story.factor(factor).applied_to
    pairs = {
        (row.item if group is None else row.groups[group], row.factors[factor])
        for row in story.plan.rows
    }
    counts = Counter(level for _, level in pairs)
    numbers = [counts[level] for level in story.factor(factor).levels]
    unit = story.unit_group(factor) or story.item
    return story.factor_label(factor), unit, min(numbers), max(numbers)


def _shows(story: Story, response: str) -> tuple[tuple[str, str], ...]:
    """Return what 8 of 10 studies would show: of the variable known best, and of the one least."""
    own = story.study.response(response)
    known = sorted(
        (one.at_80, one.term)
        for one in story.plan.detectable
        if (one.response, one.spread) == (response, "given")
        and one.term in story.factor_names
        and one.at_80 is not None
    )
    chosen = dict.fromkeys([*known[:1], *known[-1:]])
    return tuple(
        (
            story.factor_label(term),
            times(float(f"{size:.2g}"))
            if own.compare == "ratio"
            else with_unit(significant(size, 2), own.unit),
        )
        for size, term in chosen
    )


def _shared_out(story: Story, _: ResponseFindings | None) -> words.Told:
    plan = story.plan
    size = plan.shuffle.size
    layouts = "" if size is None else layouts_text(size)
    if layouts and not plan.shuffle.exact:
        layouts = say("at least {layouts}", layouts=layouts)
    return words.shared_out_told(
        words.DrawnFacts(
            item=story.item,
            layouts=layouts,
            one=not plan.by_lot,
            draws=len(plan.seeds_tried),
            added=sum(part.items for part in plan.parts[1:]),
        )
    )


def _found(story: Story, found: ResponseFindings | None) -> words.Told:
    if found is None:
        return _nothing(story)
    gone = [story.level(one.factor, one.level) for one in found.missing_levels]
    if not found.verdicts:
        return judge_found.with_missing(
            judge_found.without_margin_told(_largest(story, found)), gone, story.item
        )
    facts = [verdict_facts(story, found, verdict) for verdict in found.verdicts]
    return judge_found.with_missing(judge_found.found_told(facts), gone, story.item)


def _nothing(story: Story) -> words.Told:
    return nothing_worked(story.item), say(judge_found.NOTHING_FOUND)


def _largest(story: Story, found: ResponseFindings) -> Pair | None:
    """Return the widest pair of all variables."""
    pairs = largest_pairs(found.comparisons)
    if not pairs:
        return None
    term = max(pairs, key=lambda name: pairs[name].size or 0.0)
    return pair_of(story, found, term, pairs[term])


def _size(story: Story, found: ResponseFindings | None) -> words.Told:
    lead = _lead(story, found)
    return _nothing(story) if lead is None else judge_found.size_told(lead)


def _luck(story: Story, found: ResponseFindings | None) -> words.Told:
    lead = _lead(story, found)
    return _nothing(story) if lead is None else judge_found.luck_told(lead)


def _lead(story: Story, found: ResponseFindings | None) -> judge_found.LeadFacts | None:
    """Return the variable to tell by: one that mattered, else one with a clear answer, else first.

    Among these it is the one with the largest share of variation.
    """
    if found is None:
        return None
    order = [effect.term for effect in main_effects(story, found)]
    order += [factor.name for factor in story.study.factors if factor.name not in order]
    name = min(order, key=lambda term: (_weight(found, term), order.index(term)))
    effect = next((e for e in found.effects if e.term == name), None)
    verdict = verdict_on(found, name)
    depends = verdict is not None and verdict.reason == "depends"
    crossing = next((one for one in found.crossings if one.factor == name), None)
    cross = cross_facts(story, found, crossing) if depends and crossing is not None else None
    units = story.unit_group(name) or story.item
    p, p_drawn = _chances(effect, lots=story.plan.by_lot)
    if cross is not None and crossing is not None:  # what was tested is the two together
        both = next((e for e in found.effects if e.term == crossing.term), None)
        p, p_drawn = None if both is None else both.p_adjusted, None
        units = units if story.unit_group(crossing.within) == units else story.item
    worthwhile = story.margin(found)
    return judge_found.LeadFacts(
        factor=story.factor_label(name),
        item=story.item,
        units=plural(units),
        confidence=story.confidence,
        pair=_lead_pair(story, found, name, verdict),
        cross=cross,
        care="" if worthwhile is None else margin(worthwhile, found.scale, found.unit),
        failed=found.n_failed > 0,
        p=p,
        p_drawn=p_drawn,
        ranks=found.ranked is not None,
    )


def _weight(found: ResponseFindings, term: str) -> int:
    verdict = verdict_on(found, term)
    if verdict is None or verdict.reason in ("wide", "inside_on_average"):
        return 2
    if verdict.verdict == MATTERED:
        return 0
    return 1 if verdict.reason in ("depends", "clear_not_surely_big", "clear_but_small") else 3


def _chances(effect: Effect | None, *, lots: bool) -> tuple[float | None, float | None]:
    """Return the chance of so much if a variable did nothing: by the fit, and by lots where any."""
    if effect is None or effect.p is None:
        return None, None
    return effect.p, effect.p_randomisation if lots else None


def _lead_pair(
    story: Story, found: ResponseFindings, name: str, verdict: Verdict | None
) -> Pair | None:
    if verdict is not None:
        return verdict_facts(story, found, verdict).pair if verdict.a and verdict.b else None
    pairs = largest_pairs([one for one in found.comparisons if one.term == name])
    return pair_of(story, found, name, pairs[name]) if name in pairs else None


def _wrong(story: Story, _: ResponseFindings | None) -> words.Told:
    measured = story.measured
    counts = Counter(value.status for value in measured.of(story.main_response))
    return words.wrong_told(
        words.WrongFacts(
            item=story.item,
            planned=len(story.plan.rows),
            worked=counts["measured"] + counts["at least"],
            failed=counts["failed"],
            lost=counts["lost"],
            never_made=sum(value.never_made for value in measured.of(story.main_response)),
            corrected=len(measured.corrections),
            changed=len(measured.corrected),
            open=len(measured.open_questions),
            departures=len(measured.departures),
        )
    )


def _looked(story: Story, found: ResponseFindings | None) -> words.Told:
    plan = story.plan
    name = story.main_response
    response = story.study.response(name)
    notes = () if found is None else found.method.notes
    after = "after_looking" in notes
    looked = [part.items for part in plan.parts if part.looked]
    declared = story.study.plan.looks - 1  # the first looks are those that the plan had said
    return words.looked_told(
        words.LookedFacts(
            item=story.item,
            response=story.response_label(name),
            locked=plan.locked or "",
            care=""
            if response.worthwhile is None
            else margin(response.worthwhile, response.compare, response.unit),
            confidence=story.confidence,
            main=response.primary or len(story.study.responses) == 1,
            declared=declared > 0,
            shown=story.locked_first,
            added=sum(looked[declared:] if after else looked),
            after=after,
            changed=found is not None and bool(found.other_verdicts),
        )
    )


def _limits(story: Story, found: ResponseFindings | None) -> words.Told:
    if found is None:
        return words.limits_told(words.LimitFacts(story.item))
    open_ = [v.factor for v in found.verdicts if v.verdict == NOT_SETTLED and v.reason != "depends"]
    fixed = [n.partition(":")[2] for n in found.method.notes if n.startswith("fixed_group:")]
    return words.limits_told(
        words.LimitFacts(
            story.item,
            unsettled=tuple(story.factor_label(name) for name in open_),
            failed=found.n_failed > 0,
            batches=tuple(story.factor_label(f.name) for f in story.study.factors if f.shared),
            fixed=tuple(story.group_label(path) for path in fixed),
            randomised=story.plan.by_lot,
        )
    )


def _next(story: Story, found: ResponseFindings | None) -> words.Told:
    if found is None:
        return words.next_told(words.NextFacts(story.item, nothing=True))
    check = winner_check(story, found)
    open_ = [v for v in found.verdicts if v.verdict == NOT_SETTLED and v.reason != "depends"]
    return words.next_told(
        words.NextFacts(
            story.item,
            check="" if check is None else check.clause,
            open_=tuple(verdict_facts(story, found, verdict) for verdict in open_),
        )
    )


def _helped(story: Story, _: ResponseFindings | None) -> words.Told:
    makers = next((g for g in story.plan.groups if g.role == "maker"), None)
    others = dict.fromkeys(step.by for step in story.study.steps if step.by)
    return words.helped_told(
        story.study.makers,
        0 if makers is None else len(makers.members),
        story.item,
        list(others),
    )


_ANSWERS: Mapping[str, Callable[[Story, ResponseFindings | None], words.Told]] = MappingProxyType(
    {
        "why": _why,
        "changed": _changed,
        "many": _many,
        "shared_out": _shared_out,
        "found": _found,
        "size": _size,
        "luck": _luck,
        "wrong": _wrong,
        "looked": _looked,
        "limits": _limits,
        "next": _next,
        "helped": _helped,
    }
)
