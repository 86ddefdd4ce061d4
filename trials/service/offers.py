"""What missing items cost, and what can be done about them: told alike by every verb."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from trials.design.looks import look_left
from trials.design.values import Loss
from trials.files import as_typed
from trials.record import State
from trials.service.judging_text import loss_facts
from trials.service.opening import Opened
from trials.study import Study
from trials.words.absent import offer_extension
from trials.words.extending import FREE_NOW, fairly_added
from trials.words.judging import cost_text
from trials.words.language import say
from trials.words.numbers import capital, plural


@dataclass(frozen=True)
class Offer:
    """Something that can be done about it: what to type, and what the rest then tells."""

    kind: str  # "others": the other teams make the items; "extend": new items later
    commands: tuple[str, ...]
    cost: tuple[Loss, ...] = ()
    fair: str = ""  # what to mind, of new items

    def to_dict(self) -> dict[str, Any]:
        """Return it as JSON has it."""
        return {
            "kind": self.kind,
            "commands": list(self.commands),
            "cost": [cost_to_dict(loss) for loss in self.cost],
        }


def extended(opened: Opened, state: State, missing: int) -> tuple[Offer, ...]:
    """Return how to plan items that make up for those missing, once there are readings."""
    if not state.rows or opened.study.practice:
        return ()
    return (Offer("extend", (extension(opened, missing),), fair=fair_words(opened)),)


def fair_words(opened: Opened) -> str:
    """Return how new items are added fairly: nothing is lost by it while no result is known."""
    if not opened.here.findings.exists():
        return say(FREE_NOW)
    return fairly_added(declared=look_left(opened.study, opened.plan))


def extension(opened: Opened, missing: int) -> str:
    """Return what to type for as many new items as are missing."""
    return f"trials plan {as_typed(opened.here.folder)} --extend --items {missing}"


def extended_lines(offer: Offer, study: Study, *, first: bool) -> list[str]:
    """Return how the offer of :func:`extended` is told."""
    told = [offer_extension(plural(study.item_name), first=first), *typed(offer.commands)]
    return [*told, f"  {offer.fair}"]


def cost_to_dict(loss: Loss) -> dict[str, Any]:
    """Return what one factor's answer loses, as JSON has it."""
    return {
        "factor": loss.factor,
        "response": loss.response,
        "effect": loss.effect,
        "before": loss.before,
        "after": loss.after,
    }


def cost_lines(study: Study, cost: Sequence[Loss]) -> list[str]:
    """Return what each factor's answer loses, one line each."""
    return [f"    {capital(cost_text(loss_facts(study, loss)))}" for loss in cost]


def typed(commands: Sequence[str]) -> list[str]:
    """Return commands as they are set off from the text."""
    return [f"    {command}" for command in commands]
