"""How the numbers were worked out, in sentences that a judge can check."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from types import MappingProxyType

from trials.words.language import marked, say
from trials.words.numbers import confidence_text, layouts_text, listing, p_text, significant


@dataclass(frozen=True)
class MethodFacts:
    """What the method's paragraph is made of; codes as in the findings.

    ``tested_on`` names for each term the unit it was tested on, where that is one;
    ``adjustments`` the codes that occur among the comparisons.
    """

    estimator: str
    df: str
    sums: str
    bounded: bool
    scale: str
    confidence: float
    adjustments: tuple[str, ...]
    tested_on: tuple[tuple[str, str], ...]
    item: str


_ESTIMATORS: Mapping[str, str] = MappingProxyType(
    {
        "strata": marked(
            "The plan stayed balanced, so each term lies wholly in one stratum. It was "
            "tested by analysis of variance with the spread between the units it was applied to as "
            "the yardstick (Nelder 1965, Proceedings of the Royal Society A 283, 147-178)"
        ),
        "reml": marked(
            "The data are not orthogonal (unequal numbers), so the terms and the sources of "
            "spread were fitted together by restricted maximum likelihood (REML; Patterson and "
            "Thompson 1971, Biometrika 58, 545-554)"
        ),
        "ols": marked(
            "The items are in no groups with a spread of their own, so the terms were fitted by "
            "ordinary least squares"
        ),
    }
)

_DEGREES: Mapping[str, str] = MappingProxyType(
    {
        "strata": marked("degrees of freedom are those of the stratum"),
        "kenward-roger": marked(
            "F tests, standard errors and degrees of freedom carry the small-sample "
            "correction of Kenward and Roger (1997, Biometrics 53, 983-997)"
        ),
        "satterthwaite": marked(
            "degrees of freedom are Satterthwaite's approximation (1946, Biometrics "
            "Bulletin 2, 110-114)"
        ),
        "residual": marked("degrees of freedom are those of the residual"),
    }
)

ESTIMATORS_SHORT: Mapping[str, str] = MappingProxyType(
    {
        "strata": "analysis of variance, each term on its own unit",
        "reml": "restricted maximum likelihood",
        "ols": "least squares",
    }
)

DEGREES_SHORT: Mapping[str, str] = MappingProxyType(
    {
        "strata": "of that unit",
        "kenward-roger": "Kenward and Roger",
        "satterthwaite": "Satterthwaite",
        "residual": "of what is left over",
    }
)

DIAGNOSTICS: Mapping[str, str] = MappingProxyType(
    {
        "residual_df": marked("degrees of freedom of the residuals"),
        "normal_shape": marked("normal shape (Shapiro and Wilk)"),
        "w": "W",
        "spread_by_level": marked("with a spread for each version"),
        "variances": marked("variance"),
        "comparisons": marked("comparison"),
        "welch": marked("Welch's test, a spread for each version"),
        "games_howell": marked("Games and Howell's pair"),
        "num_df": marked("df"),
        "den_df": marked("den. df"),
        "f": "F",
        "a": marked("version"),
        "b": marked("compared with"),
        "se": marked("standard error"),
        "interval": marked("interval, end"),
        "p": "p",
    }
)

_ADJUSTMENTS: Mapping[str, str] = MappingProxyType(
    {
        "tukey": marked(
            "Tukey-Kramer for all pairs of a variable's versions (Kramer 1956, Biometrics 12, "
            "307-310)"
        ),
        "dunnett": marked(
            "Dunnett for the comparisons with a control (1955, Journal of the American "
            "Statistical Association 50, 1096-1121)"
        ),
        "multivariate_t": marked("single-step multivariate t for the comparisons with a control"),
        "none": marked("none where there is a single comparison"),
    }
)

_SUMS: Mapping[str, str] = MappingProxyType(
    {
        "III": marked(
            "type III with sum-to-zero coding (averages over the other variables with equal "
            "weights)"
        ),
        "II": marked("type II (each term after all others that do not contain it)"),
        "I": marked("type I (each term after those named before it)"),
    }
)


def method_sentences(facts: MethodFacts) -> tuple[str, ...]:
    """Return the method, one sentence an entry.

    Examples
    --------
    >>> facts = MethodFacts("strata", "strata", "III", False, "difference", 0.95, ("tukey",),
    ...                     (("heat", "firing"),), "cell")
    >>> method_sentences(facts)[1]
    'Sums of squares are type III with sum-to-zero coding (averages over the other variables with
    equal weights).'
    """
    sentences = [
        f"{say(_ESTIMATORS[facts.estimator])}; {say(_DEGREES[facts.df])}.",
        say("Sums of squares are {kind}.", kind=say(_SUMS[facts.sums])),
    ]
    if facts.estimator == "reml":
        sentences.append(
            say("Variance estimates in the tests are kept at zero or above.")
            if facts.bounded
            else say(
                "Variance estimates in the tests may be negative, so that losing one "
                "{item} does not make the answer jump; the components in the table are cut at "
                "zero and flagged.",
                item=facts.item,
            )
        )
    if facts.tested_on:
        units = dict.fromkeys(unit for _, unit in facts.tested_on)
        told = [
            say(
                "{terms} on {unit}",
                terms=listing([term for term, on in facts.tested_on if on == unit]),
                unit=unit,
            )
            for unit in units
        ]
        sentences.append(
            say("Each term was tested on its own unit: {parts}.", parts="; ".join(told))
        )
    sentences.append(_scale_sentence(facts))
    adjusted = [say(_ADJUSTMENTS[code]) for code in facts.adjustments if code in _ADJUSTMENTS]
    if adjusted:
        sentences.append(
            say(
                "Intervals are {confidence}; adjustment for several comparisons: {kinds}.",
                confidence=confidence_text(facts.confidence),
                kinds="; ".join(adjusted),
            )
        )
    return tuple(sentences)


def _scale_sentence(facts: MethodFacts) -> str:
    if facts.scale == "ratio":
        return say(
            "Readings were averaged per {item} on the physical scale, then logs were taken; "
            "means are geometric means, differences are ratios, and standard errors and residuals "
            "are those of the natural log.",
            item=facts.item,
        )
    return say(
        "Readings were averaged per {item}; differences are in the unit of measurement.",
        item=facts.item,
    )


_PLACES = ("one", "other")  # of a note, in the order of what stands behind its code

_NOTES: Mapping[str, str] = MappingProxyType(
    {
        "averaged_over": marked("averaged over the combinations that both have: {one}"),
        "averaged_over_shared_combinations": marked(
            "some combinations are empty: averaged over those that both versions have"
        ),
        "some_combinations_empty": marked(
            "some combinations are empty: tested on what can be worked out"
        ),
        "fewer_df_than_complete": marked(
            "tested on fewer degrees of freedom than a complete plan has"
        ),
        "no_shared_combination": marked("the two versions share no combination of the others"),
        "not_estimable": marked("can't be worked out from these data"),
        "empty_combination": marked("no item of this combination worked"),
        "no_replication": marked("no repeats of the unit it was applied to: no test"),
        "error_unsure": marked(
            "too little information to say how far chance alone reaches: no test and no interval"
        ),
        "no_share": marked(
            "what it did can't be told from how its units differ anyway: no share of the variation"
        ),
        "not_ranked": marked(
            "{one} has no repeats to be ranked by, or hardly any, and is left out of the ranking"
        ),
        "no_variation": marked("nothing varies among things treated alike: no test"),
        "few_df": marked("too few units for several numerator degrees of freedom: no F or p"),
        "hardly_any_information": marked("hardly any information: one degree of freedom"),
        "no_residual_df": marked(
            "as many differences asked about as there are units: nothing is left to judge chance by"
        ),
        "held_at_zero": marked(
            "the variance of {one} came out so far below zero that it was set to zero"
        ),
        "resamples": marked("fewer shuffles than asked, as they take long: {one}"),
        "no_own_spread": marked(
            "the versions of {one} spread unlike, but there is too little data to fit a "
            "spread for each"
        ),
        "rows_alike": marked("values that share everything are all the same, so they count as one"),
        "not_converged": marked("the fit did not settle down: treat its numbers with doubt"),
        "group_is_row": marked("{one} holds one item each, so it is the item itself"),
        "group_of_one": marked(
            "{one} has one member only, so it can't be told from the overall average"
        ),
        "group_same_as": marked("{one} groups the items exactly as {other} does"),
        "fixed_group": marked(
            "{one} has fewer than 6 members and nothing applied to it: it was fitted as "
            "fixed, and averages are for these members"
        ),
        "unit_is_random": marked(
            "{one} was fitted as random though declared fixed, because a variable is applied to it"
        ),
        "implied_group": marked("{one} was added as a grouping of its own, because the two cross"),
        "approximate_shuffle": marked(
            "the shuffle's p is approximate, because other variables acted too"
        ),
        "shuffle_asks_otherwise": marked(
            "the shuffle would ask another question than this test (empty "
            "combinations, or sums of squares of type II or I): no p by shuffling"
        ),
        "permutation_takes_units_as_alike": marked(
            "there is no plan to shuffle by, so p by permutation "
            "takes it that without any effect every unit could have had any version, within the "
            "groups around it; 'exact' holds as far as that is true"
        ),
        "no_shuffle": marked("too few layouts, or too little data, for a p by shuffling"),
        "few_df_no_tests": marked(
            "fewer than 10 residual degrees of freedom: look at the figure only"
        ),
        "groups_left_in": marked("too many groups to take off: residuals hold their differences"),
        "nothing_left_over": marked(
            "with all terms and groups taken off, nothing is left over to look at"
        ),
        "higher_interactions_in_error": marked(
            "interactions of more variables than shown were counted as chance"
        ),
        "treatment_by_group_in_error": marked(
            "how much a variable matters was taken to be the same in "
            "every group; any difference counts as chance"
        ),
        "too_many_to_leave_out": marked("too many rows to leave out one thing at a time"),
        "too_many_members": marked("{one} has too many members to leave out each in turn"),
        "only_suspects": marked(
            "only the {one} most unusual items were left out, as there are many"
        ),
        "not_without": marked("without {one} {other} nothing could be worked out"),
        "no_direction": marked(
            "nothing says whether high or low values are better, so nothing is said of "
            "what may be the best"
        ),
        "no_best_gaps": marked(
            "some combinations are empty: not compared with the best of the others"
        ),
        "no_best_without_error": marked(
            "without a standard error nothing can be said of what may be the best"
        ),
        "trend_not_estimable": marked("the trend can't be worked out from these data"),
        "trend_gaps": marked("some combinations are empty: no trend over all versions"),
        "never_made": marked(
            "this combination was never made: the mean is what the others tell of it"
        ),
        "likely_too_good": marked(
            "picked because it came out best, so its average is likely a little too good"
        ),
        "no_worthwhile": marked(
            "no smallest worthwhile difference was declared, so there is no verdict"
        ),
        "after_looking": marked(
            "more items were added after results were known, more often than was "
            "declared beforehand: whoever looks until something shows finds effects of pure chance "
            "more often than in 5 of 100 studies"
        ),
        "open_questions": marked(
            "questions about the data still open: {one}; the answer may change"
        ),
        "adjusted_for": marked(
            "the answer is adjusted for {one}, which is fair only if that was there "
            "before the versions were given out or could not be changed by them; if a "
            "version changes "
            "it, adjusting hides part of what the version did"
        ),
        "differs_with": marked(
            "{one} differs between the versions of {other} by more than chance: if they "
            "changed it, look at the answer without adjusting for it"
        ),
        "settled_by": marked(
            "{one} is the same in every row of one version of {other}, so the two can't be told "
            "apart"
        ),
        "by_ranks": marked(
            "{one} of the values are only known as 'at least', so all numbers are ranks: 1 "
            "is the lowest value, and those that can't be told apart share the middle of "
            "their places; "
            "the difference that you would care about is one of values and could not be used"
        ),
        "decimal_comma": marked("numbers were written with decimal commas"),
    }
)


def note_text(code: str, labels: Mapping[str, str] | None = None) -> str:
    """Return a note of the analysis in words; an unknown code is shown with its underscores gone.

    ``labels`` maps names of groups to what people call them.

    Examples
    --------
    >>> note_text("fixed_group:session")[:32], note_text("some_new_note:a")
    ('session has fewer than 6 members', 'some new note: a')
    """
    kind, _, rest = code.partition(":")
    pattern = _NOTES.get(kind)
    if pattern is None:
        return f"{kind.replace('_', ' ')}: {rest}" if rest else kind.replace("_", " ")
    wanted = pattern.count("{")
    pieces = rest.split(":", wanted - 1) if rest and wanted else []
    parts = dict(zip(_PLACES, [_path_text(piece, labels or {}) for piece in pieces], strict=False))
    return say(pattern, **(dict.fromkeys(_PLACES, "") | parts))


def drawn_sentence(errors: Sequence[float | None]) -> str:
    """Return how far p-values by shuffling may be off; "" where all shuffles were counted.

    ``errors`` are standard errors, None of what was counted.

    Examples
    --------
    >>> drawn_sentence([0.0021, None, 0.0005])[:51]
    'The shuffles were drawn by chance, so a p from them'
    """
    known = [error for error in errors if error is not None]
    if not known:
        return ""
    return say(
        "The shuffles were drawn by chance, so a p from them is good to give or take "
        "{most} at most (one standard error).",
        most=significant(max(known), 1),
    )


def held_sentence(held: Sequence[tuple[str, float, float, bool]]) -> str:
    """Return against what variables were held that were shuffled one by one; "" for none.

    ``held``: the variable, the number of layouts, the smallest p, and False where of the two only a
    bound is known.

    Examples
    --------
    >>> held_sentence([("light", 70.0, 2 / 70, True)])[-50:]
    'did. light: 70 layouts, smallest possible p 0.029.'
    """
    if not held:
        return ""
    told = []
    for label, layouts, smallest, counted in held:
        values = {
            "label": label,
            "layouts": layouts_text(layouts),
            "smallest": p_text(smallest),
        }
        told.append(
            say("{label}: {layouts}, smallest possible p {smallest}", **values)
            if counted
            else say(
                "{label}: at least {layouts}, smallest possible p at most {smallest}", **values
            )
        )
    return say(
        "For each of these only its own versions were dealt out again, as the plan could have done "
        "with all other variables left where they lie: the p asks whether it did anything at all, "
        "whatever the others did. {parts}.",
        parts="; ".join(told),
    )


def _path_text(path: str, labels: Mapping[str, str]) -> str:
    """Return a group's path with labels: "firing within session", "team by session"."""
    parts: Sequence[str] = path.split("/")
    if any(" " in part for part in parts):
        return path.replace(";", "; ")
    crossed = [[labels.get(one, one) for one in part.split(":")] for part in reversed(parts)]
    return reduce(
        lambda inner, outer: say("{inner} within {outer}", inner=inner, outer=outer),
        [
            reduce(lambda one, other: say("{one} by {other}", one=one, other=other), names)
            for names in crossed
        ],
    )
