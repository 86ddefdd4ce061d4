"""Every number of the findings as tables."""

from __future__ import annotations

from types import MappingProxyType

from trials.analysis.findings import (
    Comparison,
    Effect,
    FailedAlike,
    MadeFindings,
    Mean,
    ResponseFindings,
)
from trials.render.blocks import Block, Paragraph, Section
from trials.render.table import Cell, Column, Table, ends_columns
from trials.report.further_tables import further_blocks
from trials.report.readings import MOST_SHOWN, readings_table
from trials.report.reconciled import shuffle_notes
from trials.report.story import Story, pair_effects, slug
from trials.report.together import pairs_table
from trials.words.judging import STRATA_OVERLAP
from trials.words.language import marked, say
from trials.words.methods import drawn_sentence, held_sentence
from trials.words.numbers import capital, confidence_text, listing, p_text, plural

_DF_NAMES = MappingProxyType(
    {
        "strata": marked("the strata"),
        "kenward-roger": marked("Kenward and Roger"),
        "satterthwaite": "Satterthwaite",
        "residual": marked("the residual"),
    }
)


def _pair_notes() -> tuple[str, ...]:
    return (
        say(
            "From and to: simultaneous intervals within each family of pairs. Hedges g is "
            "standardised by the spread from the variable's unit down to the item."
        ),
    )


def _stratum(story: Story, effect: Effect) -> str:
    """Return the unit that a term was tested on: "firing within session"."""
    if effect.stratum is None:
        return ""
    strata = (effect.stratum,) if isinstance(effect.stratum, str) else effect.stratum
    return ", ".join(path_text(story, path) for path in strata)


def path_text(story: Story, path: str) -> str:
    """Return a group's path in words: "firing within session", "team by session"."""
    crossed = [
        say(" by ").join(story.group_label(name) for name in part.split(":"))
        for part in reversed(path.split("/"))
    ]
    return say(" within ").join(crossed)


def tables_section(story: Story) -> Section:
    """Return every number: effects, averages, comparisons, components, items."""
    inner = [_response_tables(story, found) for found in story.responses]
    if story.plan.skeleton:
        inner.append(Section("skeleton", say("What the plan could tell"), (_skeleton(story),)))
    everything = Section(
        "items",
        capital(say("All {items}", items=plural(story.item))),
        tuple(items_table(story, response.name) for response in story.study.responses),
    )
    return Section("tables", say("Full tables"), (), (*inner, everything, *_raw(story)))


def _raw(story: Story) -> tuple[Section, ...]:
    """Return the readings themselves, or where they stand if they are very many."""
    many = len(story.measured.readings)
    if not many:
        return ()
    if many > MOST_SHOWN:
        text = say("All {many} readings stand in readings.csv, beside this report.", many=many)
        return (Section("readings", say("All readings"), (Paragraph(text),)),)
    return (Section("readings", say("All readings"), (readings_table(story),)),)


def _response_tables(story: Story, found: ResponseFindings) -> Section:
    blocks: list[Block] = [_effects(story, found)]
    if found.variance_components:
        blocks.append(_components(story, found))
    if pair_effects(story, found):
        blocks.append(pairs_table(story, found))
    blocks += [_means(story, found), _comparisons(story, found)]
    if any(one.interval_randomisation for one in found.comparisons):
        blocks.append(_shuffle_intervals(story, found))
    for factor in dict.fromkeys(one.term for one in found.judged_pairs):
        blocks.append(_judged(story, found, factor))
    blocks += further_blocks(story, found)
    if found.as_made is not None and found.as_made.comparisons:
        blocks.append(_as_made(story, found, found.as_made))
    if found.failures:
        blocks.append(_failures(story, found))
    label = story.response_label(found.name)
    return Section(f"{slug(found.name)}-tables", capital(label), tuple(blocks))


def _effects(story: Story, found: ResponseFindings) -> Table:
    exact = found.method.estimator == "strata"
    columns = (
        Column("term"),
        Column("stratum", say("tested on")) if exact else Column("applied_to", say("applied to")),
        Column("num_df", "df", kind="count"),
        Column("den_df", say("den. df"), kind="significant", digits=4),
        Column("f", "F", kind="significant", digits=4),
        Column("p", kind="p"),
        Column("p_randomisation", say("p, shuffle"), kind="p"),
        Column("partial_omega_sq", say("partial ω²"), kind="number", decimals=3),
        Column("partial_eta_sq", say("partial η²"), kind="number", decimals=3),
        Column("eta_from", say("η² from"), kind="number", decimals=3),
        Column("eta_to", say("η² to"), kind="number", decimals=3),
    )
    rows = tuple(
        (
            story.term_label(effect.term),
            _stratum(story, effect) if exact else _applied(story, effect),
            effect.num_df,
            effect.den_df,
            effect.f,
            effect.p,
            _shuffled(effect),
            effect.partial_omega_sq,
            effect.partial_eta_sq,
            *(effect.partial_eta_sq_interval or (None, None)),
        )
        for effect in found.effects
    )
    notes = _effect_notes(story, found)
    return Table(f"{slug(found.name)}-effects", say("Effects"), columns, rows, notes)


def _shuffled(effect: Effect) -> float | None:
    return effect.p_permutation if effect.p_randomisation is None else effect.p_randomisation


def _applied(story: Story, effect: Effect) -> str:
    names = [part for part in effect.term.split(":") if part in story.factor_names]
    units = dict.fromkeys(story.unit_group(name) or story.item for name in names)
    return listing(list(units)) if units else _stratum(story, effect)


def _effect_notes(story: Story, found: ResponseFindings) -> tuple[str, ...]:
    confidence = confidence_text(story.confidence)
    notes = [
        say(
            "Type {sums} tests; df by {df}. η² from, to: "
            "{confidence} interval by the noncentral F distribution.",
            sums=found.method.sums,
            df=say(_DF_NAMES[found.method.df]),
            confidence=confidence,
        )
    ]
    exact = [story.term_label(e.term) for e in found.effects if e.exact]
    others = [e for e in found.effects if not e.exact and _shuffled(e) is not None]
    if exact:
        notes.append(
            say(
                "p, shuffle: the plan's own shuffle, exact for {exact} under 'no effect, "
                "interactions included'.",
                exact=listing(exact),
            )
        )
        held = [(story.term_label(t), n, p, sure) for t, n, p, sure in found.shuffled_alone]
        notes.append(held_sentence(held))
    if others:
        whose = say("the rest") if exact else say("every term")
        notes.append(
            say(
                "p, shuffle: approximate for {whose} (all variables move together in the "
                "layouts the plan could have drawn, and F is worked out anew in each; for terms of "
                "two variables it meets what the other terms leave).",
                whose=whose,
            )
        )
    notes.append(drawn_sentence([effect.p_shuffle_error for effect in found.effects]))
    return tuple(note for note in notes if note)


def _skeleton(story: Story) -> Table:
    columns = (
        Column("source"),
        Column("stratum"),
        Column("df", kind="count"),
        Column("tested_by", say("tested by")),
        Column("den_df", say("den. df"), kind="significant", digits=4),
    )
    rows = tuple(
        (
            path_text(story, row.source) if "/" in row.source else story.term_label(row.source),
            path_text(story, row.stratum),
            row.df,
            path_text(story, row.tested_by) if row.tested_by else _untested(story, row.source),
            row.den_df,
        )
        for row in story.plan.skeleton
    )
    note = say("Known before anything was made; a lost or failed item changes it a little. ") + say(
        STRATA_OVERLAP
    )
    return Table("skeleton", say("Skeleton of the plan"), columns, rows, (note,), heads=2)


def _untested(story: Story, source: str) -> str:
    """Return why a line of the plan has no test."""
    if story.factor_names & set(source.split(":")):
        return say("can't be tested here (nothing of this stratum is left to judge by)")
    if source == "residual":
        return say("not tested (the others are judged by it)")
    return say("not tested (a group, no variable)")


def _components(story: Story, found: ResponseFindings) -> Table:
    unit = "" if found.scale == "ratio" or not found.unit else f"({found.unit})²"
    if found.unit.isalpha():
        unit = unit.replace("(", "").replace(")", "")
    columns = (
        Column("group", "between"),
        Column("variance", unit=unit, kind="significant", digits=4),
        Column("unbounded", say("before the cut at 0"), unit, "significant", 4),
        Column("at_boundary", say("at boundary"), kind="word"),
    )
    rows = tuple(
        (
            plural(path_text(story, c.group)) if "/" not in c.group else path_text(story, c.group),
            c.variance,
            c.unbounded,
            "yes" if c.at_boundary else "no",
        )
        for c in found.variance_components
    )
    notes = (say("Variances of the natural log."),) if found.scale == "ratio" else ()
    return Table(f"{slug(found.name)}-components", say("Variance components"), columns, rows, notes)


def _means(story: Story, found: ResponseFindings) -> Table:
    log = found.scale == "ratio"
    columns = (
        Column("term"),
        Column("levels"),
        Column("n", kind="count"),
        Column("mean", "geometric mean" if log else "mean", found.unit, "significant", 4),
        Column("se", "se (log)" if log else "se", "" if log else found.unit, "significant", 3),
        Column("df", kind="significant", digits=3),
        *ends_columns(found.unit),
    )
    rows = tuple(
        (
            story.term_label(m.term),
            _levels(story, m),
            m.n,
            m.mean,
            m.se,
            m.df,
            *m.interval,
        )
        for m in found.means
    )
    confidence = confidence_text(story.confidence)
    note = say(
        "{confidence} intervals, not adjusted for several means; equally weighted over the other "
        "variables.",
        confidence=confidence,
    )
    return Table(f"{slug(found.name)}-means", say("Means"), columns, rows, (note,), heads=2)


def _levels(story: Story, mean: Mean) -> str:
    return ", ".join(story.short_level(f, level) for f, level in mean.levels.items())


def _comparisons(story: Story, found: ResponseFindings) -> Table:
    rows = tuple(_comparison_row(story, found, one) for one in found.comparisons)
    name = f"{slug(found.name)}-comparisons"
    return Table(name, say("Comparisons"), _comparison_columns(found), rows, _pair_notes(), heads=2)


def _shuffle_intervals(story: Story, found: ResponseFindings) -> Table:
    """Return the differences that the plan's own shuffle does not reject, pair by pair."""
    ratio = found.scale == "ratio"
    unit = "" if ratio else found.unit
    columns = (
        Column("a", "version"),
        Column("b", "over" if ratio else "minus"),
        Column("estimate", "ratio" if ratio else "difference", unit, "significant", 4),
        *ends_columns(unit),
        Column("kind", "shuffle", kind="word"),
    )
    rows = tuple(
        (
            *_comparison_row(story, found, one)[:3],
            *one.interval_randomisation,
            "exact" if one.interval_exact else "approximate",
        )
        for one in found.comparisons
        if one.interval_randomisation is not None
    )
    notes = (
        say(
            "{confidence} intervals, each for one pair by itself: the "
            "differences that the shuffle does not reject once they were taken off. Exact: if the "
            "difference is the same for every {item}. An end that does not exist is left out.",
            confidence=capital(confidence_text(story.confidence)),
            item=story.item,
        ),
        *shuffle_notes(story, found),
    )
    name = f"{slug(found.name)}-shuffle-intervals"
    return Table(name, say("Intervals by the plan's own shuffle"), columns, rows, notes, heads=2)


def _judged(story: Story, found: ResponseFindings, factor: str) -> Table:
    """Return the pairs a verdict rests on, where a control has comparisons of its own."""
    rows = tuple(
        _comparison_row(story, found, one) for one in found.judged_pairs if one.term == factor
    )
    caption = say(
        "Pairs that the verdict on {factor_label} rests on", factor_label=story.factor_label(factor)
    )
    name = f"{slug(found.name)}-{slug(factor)}-judged"
    return Table(name, caption, _comparison_columns(found), rows, _pair_notes(), heads=2)


def _as_made(story: Story, found: ResponseFindings, made: MadeFindings) -> Table:
    rows = tuple(_comparison_row(story, found, one) for one in made.comparisons)
    caption = say(
        "Comparisons by what was really made ({n_items} {items})",
        n_items=made.n_items,
        items=plural(story.item),
    )
    name = f"{slug(found.name)}-as-made"
    return Table(name, caption, _comparison_columns(found), rows, _pair_notes(), heads=2)


def _comparison_columns(found: ResponseFindings) -> tuple[Column, ...]:
    ratio = found.scale == "ratio"
    unit = "" if ratio else found.unit
    return (
        Column("a", "version"),
        Column("b", "minus" if not ratio else "over"),
        Column("estimate", "ratio" if ratio else "difference", unit, "significant", 4),
        *ends_columns(unit),
        Column("se", "se (log)" if ratio else "se", unit, "significant", 3),
        Column("df", kind="significant", digits=3),
        Column("p", kind="p"),
        Column("p_adjusted", say("p adj."), kind="p"),
        Column("adjustment", "adj."),
        Column("hedges_g", say("Hedges g"), kind="number", decimals=2),
        Column("g_from", say("g from"), kind="number", decimals=2),
        Column("g_to", say("g to"), kind="number", decimals=2),
    )


def _comparison_row(story: Story, found: ResponseFindings, one: Comparison) -> tuple[Cell, ...]:
    return (
        story.levels(one.a),
        story.levels(one.b),
        one.ratio if found.scale == "ratio" else one.difference,
        *one.interval_adjusted,
        one.se,
        one.df,
        one.p,
        one.p_adjusted,
        one.adjustment.capitalize(),
        one.hedges_g,
        *(one.hedges_g_interval or (None, None)),
    )


def _failures(story: Story, found: ResponseFindings) -> Table:
    columns = (
        Column("variable"),
        Column("version"),
        Column("made and tested", kind="count"),
        Column("failed", kind="count"),
        Column("p", kind="p"),
        Column("p, failed as worst", kind="p"),
    )
    rows = tuple(
        (
            story.factor_label(table.factor),
            story.short_level(table.factor, level),
            made,
            table.failed.get(level, 0),
            table.p,
            table.p_as_worst,
        )
        for table in found.failures
        for level, made in table.made.items()
    )
    name = f"{slug(found.name)}-failures"
    crossed = any("by_plan_shuffle" in table.notes for table in found.failures)
    notes = (
        say("p: exact test that respects the groups of the plan.")
        + (
            say(
                " Where these cross, with one {item} in each combination, counting can exchange "
                "nothing, and the shuffle of the plan is asked instead.",
                item=story.item,
            )
            if crossed
            else ""
        ),
        say(
            "p, failed as worst: all items made are ranked, those that failed tied below "
            "all others, "
            "and the ranks are tested by the shuffle of the plan."
        ),
    )
    alike = () if found.failed_alike is None else (_alike_note(found.failed_alike),)
    return Table(name, say("Failed items by version"), columns, rows, (*notes, *alike), heads=2)


def _alike_note(alike: FailedAlike) -> str:
    text = say(
        "What failed items share was looked for in all variables at once: the versions that least "
        "likely hold so many of the failed by luck (upper tail of the hypergeometric distribution)."
    )
    if alike.p is None:
        return text
    return text + say(
        " They were picked after looking, so every layout of the plan's shuffle was searched in "
        "the same way: p {p}.",
        p=p_text(alike.p),
    )


def items_table(story: Story, response: str) -> Table:
    """Return every item of the plan with its value of one response."""
    plan = story.plan
    unit = story.study.response(response).unit
    columns = (
        Column("item", story.item),
        Column("run", "made", kind="count"),
        *(Column(group.name, story.group_label(group.path)) for group in plan.groups),
        *(
            Column(f.name, story.factor_label(f.name), "" if f.unit == "1" else f.unit)
            for f in plan.factors
        ),
        Column("readings", "readings", kind="count"),
        Column("value", "value", unit, "significant", 4),
        Column("uncertainty", "±", unit, "significant", 2),
        Column("status", kind="word"),
    )
    values = story.statuses(response)
    shared, own = story.remarks(response)
    if own:
        columns = (*columns, Column("remarks"))
    rows: list[tuple[Cell, ...]] = []
    for row in sorted(plan.rows, key=lambda r: r.run):
        value = values.get(row.item)
        rows.append(
            (
                row.item,
                row.run,
                *(row.groups[group.name] for group in plan.groups),
                *(row.factors[factor.name] for factor in plan.factors),
                value.readings if value else 0,
                value.value if value else None,
                value.uncertainty if value else None,
                value.status if value else "unmeasured",
                *([own.get(row.item, "")] if own else []),
            )
        )
    label = story.response_label(response)
    note = say("±: standard uncertainty of the value from its readings and meters, where known.")
    notes = (note, *(say("Of all: {one}.", one=one) for one in shared))
    return Table(f"{slug(response)}-items", capital(label), columns, tuple(rows), notes)
