"""Which items to make: versions shared out fairly, the plan's own shuffle, audit and power.

Two functions bear the name of their module and are imported from there: ``draw.draw`` makes a plan,
``audit.audit`` is its fair-test check.
"""

from typing import TYPE_CHECKING

from trials.design.values import AuditFinding, Balance, Plan, PlanRow, Shuffle

if TYPE_CHECKING:
    from trials.design.draw import preview
    from trials.design.planned import stops
    from trials.design.power import OneWayPower, one_way_power
    from trials.design.saved import (
        csv_matches,
        plan_from_json,
        plan_to_csv,
        plan_to_dict,
        plan_to_json,
    )
    from trials.design.shuffle import all_layouts, plan_layout, shuffles

__all__ = [
    "AuditFinding",
    "Balance",
    "OneWayPower",
    "Plan",
    "PlanRow",
    "Shuffle",
    "all_layouts",
    "csv_matches",
    "one_way_power",
    "plan_from_json",
    "plan_layout",
    "plan_to_csv",
    "plan_to_dict",
    "plan_to_json",
    "preview",
    "shuffles",
    "stops",
]

_HOME = {
    "OneWayPower": "power",
    "all_layouts": "shuffle",
    "csv_matches": "saved",
    "one_way_power": "power",
    "plan_from_json": "saved",
    "plan_layout": "shuffle",
    "plan_to_csv": "saved",
    "plan_to_dict": "saved",
    "plan_to_json": "saved",
    "preview": "draw",
    "shuffles": "shuffle",
    "stops": "planned",
}


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module 'trials.design' has no name {name!r}")
    import importlib

    return getattr(importlib.import_module(f"trials.design.{_HOME[name]}"), name)
