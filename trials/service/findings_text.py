"""Findings as lines to read on a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from trials.analysis.findings import (
    Comparison,
    Crossing,
    Findings,
    Levels,
    ResponseFindings,
)
from trials.render.table import Column, Table, to_text
from trials.report.told import (
    as_made_told,
    fresh_told,
    largest_pairs,
    names_in,
    trend_told,
    what_it_hangs_on,
)
from trials.words.comparing import Pair, gap_with_range
from trials.words.crossing import CrossFacts, crossing_sentence, distinct
from trials.words.extending import AFTER_LOOKING
from trials.words.further import best_sentence, noise_sentence
from trials.words.language import say
from trials.words.methods import (
    DEGREES_SHORT,
    ESTIMATORS_SHORT,
    drawn_sentence,
    held_sentence,
    note_text,
)
from trials.words.missing import at_least_sentence, gone_words, missing_sentence
from trials.words.naming import version_name
from trials.words.numbers import capital, count, listing, significant, with_unit
from trials.words.practice import WHERE_THE_LINE, WHERE_TO_PASTE, from_line

HOW = "How it was worked out"
CAREFUL = ("adjusted_for", "differs_with", "settled_by")  # what stands beside the answers
MOST_ROWS = 8  # rows left out that are named


def findings_lines(findings: Findings, folder: str = "practice") -> list[str]:
    """Return what was found, response by response: the answers first, the tests last.

    ``folder``: name of the study folder, by which a study refers to a practice run.
    """
    if findings.practice:
        return _practice_lines(findings, folder)
    lines: list[str] = []
    for response in findings.responses:
        lines += ["", *_response_lines(response)]
    return lines[1:]


def _response_lines(response: ResponseFindings) -> list[str]:
    unit = f" ({response.unit})" if response.unit else ""
    lines = [f"{capital(response.name)}{unit}: {_counts(response)}"]
    lines += [f"  {text}" for text in _missing(response)]
    lines += [f"  {text}" for text in _at_least(response)]
    lines += [f"  {verdict.sentence}" for verdict in response.verdicts]
    lines += [f"  {verdict.sentence}" for verdict in response.other_verdicts]
    if "after_looking" in response.method.notes:
        lines += [f"  {AFTER_LOOKING}"]
        lines += [f"  New part alone: {verdict.sentence}" for verdict in response.new_part]
    lines += [f"  {verdict.sentence}" for verdict in response.moved_verdicts]
    if response.as_made is not None:
        pairs = largest_pairs(response.as_made.comparisons).values()
        gaps = [gap_with_range(_pair(one, response)) for one in pairs]
        lines += [
            f"  {as_made_told(response, response.as_made, gaps, lambda verdict: verdict.sentence)}"
        ]
    names = names_in(response, str, lambda path: path.rpartition("/")[2])
    lines += [f"  {text}" for text in what_it_hangs_on(response, names)]
    lines += [f"  {text}" for text in _pairs_told(response)]
    if not response.verdicts:
        facts = [_cross_facts(one, response) for one in response.crossings]
        lines += [f"  {crossing_sentence(one)}" for one in distinct(facts)]
    lines += [f"  {text}" for text in _further(response)]
    lines += [f"  Careful: {note_text(note)}." for note in response.method.notes
              if note.startswith(CAREFUL)]  # fmt: skip
    lines += [f"  Can't be worked out here: {what}" for what in response.not_estimable]
    lines += [f"  {text}" for text in _left_out(response)]
    lines += ["", f"  {HOW}:"]
    lines += [
        f"  {capital(note_text(note))}."
        for note in response.method.notes
        if not note.startswith(("open_questions", *CAREFUL))  # told above
    ]
    lines += [f"  {line}".rstrip() for line in to_text(_tests(response), 96)]
    return lines


def _at_least(response: ResponseFindings) -> list[str]:
    """Return that all numbers are ranks, and what half of the items of each version reached."""
    ranked = response.ranked
    if ranked is None:
        return []
    told = [
        f"{one.factor} {one.level}: half reached {'' if one.exact else 'at least '}"
        f"{with_unit(significant(one.median), ranked.unit)} ({one.at_least} of {one.count} only "
        "known as at least)."
        for one in ranked.levels
    ]
    known = len(ranked.items)
    return [at_least_sentence(known, response.n_items, "item", response.name), *told]


def _left_out(response: ResponseFindings) -> list[str]:
    """Return which rows of a table gave no value and were left out; a plan's items are told apart.

    Those of a plan have codes, and their own words in the report.
    """
    rows = [one.item for one in response.set_aside if one.item.startswith("row ")]
    if not rows:
        return []
    first = listing(rows[:MOST_ROWS]) + (" and more" if len(rows) > MOST_ROWS else "")
    return [f"Left out, for want of a value: {count(len(rows), 'row')} ({first})."]


def _further(response: ResponseFindings) -> list[str]:
    """Return the trends of quantities, the best recipe, and what the readings add to the noise."""
    quantities = dict.fromkeys(one.term for one in response.trends)
    lines = [trend_told(response, name, name) for name in quantities]
    best = response.best_recipe
    if best is not None and best.mean is not None:
        average = with_unit(significant(best.mean), response.unit)
        recipes = _levels(best.levels), _levels(best.runner_up)
        lines.append(best_sentence(*recipes, average, "item"))
        lines.append(fresh_told(response))
    noise = response.reading_share
    if noise is not None:
        lines.append(noise_sentence(noise.share, noise.share_interval, "item"))
    return [line for line in lines if line]


def _missing(response: ResponseFindings) -> list[str]:
    """Return what is to be said of every version that gave no value at all."""
    return [
        missing_sentence(
            version_name(one.level, variable=one.factor),
            one.factor,
            "item",
            one.planned,
            (one.failed, one.lost, one.never_made),
        )
        for one in response.missing_levels
    ]


def _practice_lines(findings: Findings, folder: str) -> list[str]:
    """Return what a practice run was made for, with the lines for the study file."""
    from trials.report.practice_told import Names, told

    lines: list[str] = []
    pasted: list[str] = []
    for found in findings.practice:
        one = told(found, Names("item", found.response, ""))
        unit = f" ({found.unit})" if found.unit else ""
        lines += [f"{capital(found.response)}{unit}:"]
        lines += [f"  {sentence}" for sentence in one.sentences]
        lines.append("")
        pasted += one.lines
    if not pasted:
        return lines[:-1]
    lines += [say(WHERE_THE_LINE), f"  {from_line(folder)}", say(WHERE_TO_PASTE)]
    return [*lines, *(f"  {line}" for line in pasted)]


def _counts(response: ResponseFindings) -> str:
    parts = [f"{count(response.n_items, 'item')} compared"]
    gone = gone_words(response.n_failed, response.n_lost, response.n_never_made)
    return ", ".join([*parts, *gone])


def _pairs_told(response: ResponseFindings) -> list[str]:
    """Return the pairs to be told: all with a control, else the largest where nothing is judged.

    With a control the answer still rests on all pairs; they stand before those with the control,
    whose ranges of doubt are smaller because they are fewer.
    """
    control = [one for one in response.comparisons if one.adjustment == "dunnett"]
    with_control = {one.term for one in control}
    told = []
    judged = [one for one in response.judged_pairs if one.term in with_control]
    if judged and response.verdicts:
        told += ["Pairs that the answer rests on:", *_gaps(response, judged)]
    if control:
        told += ["Each version against the control alone:", *_gaps(response, control)]
    if not response.verdicts:
        told += [f"{capital(gap)}." for gap in _largest_gaps(response, with_control)]
    return told


def _gaps(response: ResponseFindings, pairs: Sequence[Comparison]) -> list[str]:
    sized = (one for one in pairs if one.size is not None)
    return [f"  {capital(gap_with_range(_pair(one, response)))}." for one in sized]


def _largest_gaps(response: ResponseFindings, told: set[str]) -> list[str]:
    """Return the largest difference of each single factor not ``told``, with its interval."""
    return [
        gap_with_range(_pair(one, response))
        for factor, one in largest_pairs(response.comparisons).items()
        if factor not in told and one.size is not None
    ]


def _pair(comparison: Comparison, response: ResponseFindings) -> Pair:
    ratio = response.scale == "ratio"
    return Pair(
        _levels(comparison.a),
        _levels(comparison.b),
        comparison.ratio if ratio else comparison.difference,
        comparison.interval_adjusted,
        response.scale,
        "" if ratio else response.unit,
    )


def _cross_facts(crossing: Crossing, response: ResponseFindings) -> CrossFacts:
    """Return a crossing by the names in the table, with nothing said of what is worth caring."""
    within = crossing.within

    def pair(one: Comparison) -> Pair:
        own = {crossing.factor: one.a[crossing.factor]}, {crossing.factor: one.b[crossing.factor]}
        return _pair(one.model_copy(update={"a": own[0], "b": own[1]}), response)

    return CrossFacts(
        factor=crossing.factor,
        within=within,
        at_one=_levels({within: crossing.one.a[within]}),
        at_other=_levels({within: crossing.other.a[within]}),
        one=pair(crossing.one),
        other=pair(crossing.other),
        turns=crossing.turns,
        caused=False,
        failed=response.n_failed > 0,
    )


def _levels(levels: Levels) -> str:
    return ", ".join(f"{factor} {level}" for factor, level in levels.items())


def _tests(response: ResponseFindings) -> Table:
    columns = (
        Column("what"),
        Column("df", kind="count"),
        Column("df below", kind="significant"),
        Column("F", kind="significant"),
        Column("p", kind="p"),
        Column("p by shuffling", kind="p"),
    )
    rows = tuple(
        (
            effect.term,
            effect.num_df,
            effect.den_df,
            effect.f,
            effect.p,
            effect.p_randomisation if effect.p_randomisation is not None else effect.p_permutation,
        )
        for effect in response.effects
    )
    method = response.method
    caption = f"Tests ({ESTIMATORS_SHORT[method.estimator]}; df: {DEGREES_SHORT[method.df]})"
    drawn = drawn_sentence([effect.p_shuffle_error for effect in response.effects])
    held = held_sentence(response.shuffled_alone)
    return Table("tests", caption, columns, rows, tuple(note for note in (held, drawn) if note))
