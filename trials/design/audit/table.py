"""Everything the fair-test check looks for, one entry each, in the order of telling."""

from __future__ import annotations

from trials.design.audit import lessons, order, outcome, repeats, ties, versions
from trials.design.audit.view import Situation

SITUATIONS: tuple[Situation, ...] = (
    Situation("tied", "stop", ties.tied),
    Situation("changed_together", "warn", ties.changed_together),
    Situation("alias.group", "stop", ties.alias_group, layout=True),
    Situation("alias.part", "warn", ties.alias_part, layout=True),
    Situation("alias.factors", "warn", ties.alias_factors),
    Situation("no_replication", "stop", repeats.no_replication),
    Situation("one_for_level", "warn", ties.one_for_level),
    Situation("unseen", "warn", ties.unseen, layout=True),
    Situation("uneven", "warn", ties.uneven, layout=True),
    Situation("time_order", "warn", order.time_order, order=True),
    Situation("carry_over", "warn", order.carry_over, order=True),
    Situation("same_order", "warn", order.same_order, order=True),
    Situation("lesson_tied", "warn", lessons.lesson_tied, timed=True),
    Situation("lesson_split", "warn", lessons.lesson_split, timed=True),
    Situation("few_layouts", "warn", repeats.few_layouts),
    Situation("loss_fatal", "warn", repeats.loss_fatal),
    Situation("shared_pot", "warn", repeats.shared_pot),
    Situation("unequal", "warn", repeats.unequal),
    Situation("untested", "warn", repeats.untested),
    Situation("usual_missing", "warn", versions.usual_missing),
    Situation("levels_close", "warn", versions.levels_close),
    Situation("best_of_many", "warn", outcome.best_of_many),
    Situation("expected_small", "warn", outcome.expected_small),
    Situation("no_verdict", "warn", outcome.no_verdict),
    Situation("margin_unreachable", "warn", outcome.margin_unreachable),
    Situation("no_primary", "warn", outcome.no_primary),
    Situation("several_primary", "warn", outcome.several_primary),
    Situation("no_group_spread", "warn", outcome.no_group_spread),
    Situation("counts", "note", repeats.counts),
    Situation("sizes_short", "note", repeats.sizes_short),
    Situation("shared_unknown", "note", repeats.shared_unknown),
    Situation("group_of_one", "note", repeats.group_of_one),
    Situation("no_control", "note", versions.no_control),
    Situation("rough_readings", "note", outcome.rough_readings),
    Situation("no_failed_rule", "note", outcome.no_failed_rule),
    Situation("no_worthwhile", "note", outcome.no_worthwhile),
    Situation("no_spread", "note", outcome.no_spread),
    Situation("no_prediction", "note", outcome.no_prediction),
    Situation("nothing_same", "note", outcome.nothing_same),
    Situation("several_draws", "note", order.several_draws),
)
