"""Search for an allocation that keeps counting rules, by OR-tools' CP-SAT.

This is the only module that imports ortools. One worker, a fixed seed and a limit counted in work
rather than in seconds: the same call gives the same answer on every machine, fast or slow.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from trials.design.factorials import Codes

Status = Literal["exact", "nearest", "best found", "impossible", "not found"]
INFEASIBLE = 2  # of scipy's linear programming

Together = Sequence[tuple[int, int]]  # pairs (unit, choice)


@dataclass(frozen=True)
class Rule:
    """A count that should lie between ``low`` and ``high``.

    ``counted`` lists (unit, choice, times): a unit that takes the choice counts so many times.
    ``weight`` is the price of each count beyond the limits; 0: the rule must hold.
    """

    counted: tuple[tuple[int, int, int], ...]
    low: int
    high: int
    weight: int = 0


@dataclass(frozen=True)
class Answer:
    """One choice for each unit, shape (units,), and how good it is.

    ``exact``: every rule holds. ``nearest``: proved that no allocation costs less. ``best found``:
    the search stopped first. ``impossible``: rules that must hold contradict each other.
    ``not found``: the search stopped without any. In the last two ``choice`` is empty.
    """

    status: Status
    choice: Codes
    cost: int

    @property
    def found(self) -> bool:
        """Whether there is an allocation at all."""
        return self.status in ("exact", "nearest", "best found")


def solve(
    units: int,
    choices: int,
    rules: Sequence[Rule],
    *,
    seed: int,
    effort: float,
    start: Codes | None = None,
) -> Answer:
    """Give each of ``units`` one of ``choices`` so that the rules hold, or cost least.

    Parameters
    ----------
    effort : limit of the search in CP-SAT's deterministic units, about a second each.
    start : an allocation to begin from, shape (units,).

    Examples
    --------
    >>> rules = [Rule(tuple((unit, c, 1) for unit in range(4)), 2, 2) for c in range(2)]
    >>> answer = solve(4, 2, rules, seed=1, effort=1.0)
    >>> answer.status, sorted(answer.choice.tolist())
    ('exact', [0, 0, 1, 1])
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    taken = [[model.new_bool_var("") for _ in range(choices)] for _ in range(units)]
    for row in taken:
        model.add_exactly_one(row)
    prices: list[Any] = []
    for rule in rules:
        _add(model, taken, rule, prices)
    if prices:
        model.minimize(sum(prices))
    if start is not None:
        for unit, row in enumerate(taken):
            for choice, variable in enumerate(row):
                model.add_hint(variable, int(start[unit]) == choice)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.max_deterministic_time = effort
    # it would take Ctrl-C over and not give it back: the next one would kill the program
    solver.parameters.catch_sigint_signal = False
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        failed: Status = "impossible" if status == cp_model.INFEASIBLE else "not found"
        return Answer(failed, np.zeros(0, dtype=np.intp), 0)
    cost = round(solver.objective_value) if prices else 0
    chosen = [
        next(c for c, variable in enumerate(row) if solver.boolean_value(variable)) for row in taken
    ]
    word: Status = "exact" if cost == 0 else "best found"
    if cost and status == cp_model.OPTIMAL:
        word = "nearest"
    return Answer(word, np.array(chosen, dtype=np.intp), cost)


def is_contradictory(units: int, choices: int, rules: Sequence[Rule]) -> bool:
    """Return whether rules that must hold can't, even if each unit could take parts of choices.

    Linear programming tells it in a fraction of the time that the solver takes to find out. False
    says nothing: with whole choices they may contradict each other all the same.

    Examples
    --------
    >>> low, high = (Rule(((0, 0, 1), (1, 0, 1)), least, least) for least in (0, 1))
    >>> is_contradictory(2, 2, [low]), is_contradictory(2, 2, [low, high])
    (False, True)
    """
    from scipy.optimize import linprog
    from scipy.sparse import coo_array, vstack

    counting = [rule for rule in rules if rule.counted]
    if not counting:
        return False
    table = np.array([one for rule in counting for one in rule.counted], dtype=np.intp)
    which = np.repeat(np.arange(len(counting)), [len(rule.counted) for rule in counting])
    shape = (len(counting), units * choices)
    counts = coo_array((table[:, 2], (which, table[:, 0] * choices + table[:, 1])), shape).tocsr()
    every = np.arange(units * choices)
    one_each = coo_array((np.ones(len(every)), (every // choices, every))).tocsr()
    high = np.array([rule.high for rule in counting], dtype=np.float64)
    low = np.array([rule.low for rule in counting], dtype=np.float64)
    found = linprog(  # type: ignore[call-overload]  # its stubs know no sparse tables
        np.zeros(len(every)),
        A_ub=vstack([counts, -counts]),
        b_ub=np.concatenate([high, -low]),
        A_eq=one_each,
        b_eq=np.ones(units),
        bounds=(0, 1),
        method="highs",
    )
    return bool(found.status == INFEASIBLE)


def satisfiable(
    choices: Sequence[int],
    never: Iterable[Together],
    some: Iterable[Sequence[Together]],
    *,
    effort: float,
) -> bool | None:
    """Return whether units can choose so that nothing happens that must not; None: not found out.

    Parameters
    ----------
    choices : how many choices each unit has.
    never : choices of several units that may not be made together, as pairs (unit, choice).
    some : for each wish the ways to fulfil it, one of which has to happen.

    Examples
    --------
    >>> satisfiable([2, 2], [[(0, 0), (1, 0)]], [[[(0, 0)]], [[(1, 0)]]], effort=1.0)
    False
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    taken = [[model.new_bool_var("") for _ in range(number)] for number in choices]
    for row in taken:
        model.add_exactly_one(row)
    for together in never:
        model.add_bool_or([~taken[unit][choice] for unit, choice in together])
    for ways in some:
        happens = []
        for together in ways:
            way = model.new_bool_var("")
            for unit, choice in together:
                model.add_implication(way, taken[unit][choice])
            happens.append(way)
        model.add_bool_or(happens)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = effort
    solver.parameters.catch_sigint_signal = False
    status = solver.solve(model)
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return True
    return False if status == cp_model.INFEASIBLE else None


def _add(model: Any, taken: Sequence[Sequence[Any]], rule: Rule, prices: list[Any]) -> None:
    from ortools.sat.python import cp_model

    if not rule.counted:
        return
    if rule.weight == 0:  # as add_linear_constraint would write it, in half the time
        linear = model.proto.constraints.add().linear
        linear.vars.extend([taken[unit][choice].index for unit, choice, _ in rule.counted])
        linear.coeffs.extend([times for *_, times in rule.counted])
        linear.domain.extend([rule.low, rule.high])
        return
    variables = [taken[unit][choice] for unit, choice, _ in rule.counted]
    total = cp_model.LinearExpr.weighted_sum(variables, [times for *_, times in rule.counted])
    most = sum(times for _, _, times in rule.counted)
    above = model.new_int_var(0, max(most - rule.high, 0), "")
    below = model.new_int_var(0, rule.low, "")
    model.add(total - above <= rule.high)
    model.add(total + below >= rule.low)
    prices.extend((rule.weight * above, rule.weight * below))
