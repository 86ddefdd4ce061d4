"""Whether what there is of the materials is enough, and for how many items it is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from trials.classroom.materials import Need, failing, needs
from trials.design.spares import surely_working
from trials.design.values import Plan
from trials.quantities import convert
from trials.study.check_stock import folded, stock_amount
from trials.study.values import Study


@dataclass(frozen=True)
class Stock:
    """One material of which it is said how much there is; amounts in ``unit``.

    ``needed``: by the plan, without spares; ``spare``: with them, None where no number is enough.
    ``items``: planned; ``fits``: as many as it is enough for, nothing going wrong, None where no
    item takes any; ``surely``: as many as come out well with a chance of 95 % if ``fits`` are made
    (of what one version takes: as many as can be planned so that the items of that version do).
    """

    name: str
    unit: str
    there: Decimal
    needed: Decimal
    spare: Decimal | None
    items: int
    fits: int | None
    surely: int | None

    @property
    def enough(self) -> bool:
        """Whether all items of the plan can be made."""
        return self.there >= self.needed

    @property
    def with_spares(self) -> bool:
        """Whether there are all spares, too."""
        return self.spare is not None and self.there >= self.spare


def stocks(study: Study, plan: Plan) -> tuple[Stock, ...]:
    """Return each material of which study.toml says what there is, in the order of its lines."""
    found = needs(study, plan)
    share = failing(study).share
    told = []
    for name, written in study.stock.items():
        mine = [need for need in found if folded(need.material.name) == folded(name)]
        amount = stock_amount(written)
        if not mine or amount is None:
            continue
        unit = mine[0].material.unit
        there = convert(amount[0], amount[1], unit)
        all_items = _sum(_in(n, n.each * n.times, unit) for n in mine if n.material.per == "item")
        once = _sum(_in(n, n.each * n.times, unit) for n in mine if n.material.per != "item")
        items = len(plan.rows)
        fits = max(0, int((there - once) * items // all_items)) if all_items else None
        told.append(
            Stock(
                mine[0].material.name.strip(),
                unit,
                there,
                once + all_items,
                None
                if any(need.spare is None for need in mine)
                else _sum(_in(n, n.each * n.all_in, unit) for n in mine),
                items,
                fits,
                None
                if fits is None
                else min(_surely(mine, Fraction(there - once) / Fraction(all_items), items, share)),
            )
        )
    return tuple(told)


def _surely(mine: Iterable[Need], enough: Fraction, items: int, share: float) -> Iterator[int]:
    """Yield of each use how many items come out well for sure, out of all that can be made.

    What one version takes is reckoned with the items of that version: among few of them more go
    wrong in proportion. ``enough``: what there is, as a share of what all planned items take.
    """
    for need in mine:
        if need.material.per == "item":
            of = need.times if need.material.level else items
            made = max(0, int(enough * of))
            yield surely_working(made, share) * items // of


def _in(need: Need, amount: Decimal, unit: str) -> Decimal:
    return convert(amount, need.material.unit, unit)


def _sum(amounts: Iterable[Decimal]) -> Decimal:
    return sum(amounts, Decimal(0))
