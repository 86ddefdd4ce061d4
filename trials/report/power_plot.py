"""The picture of how many are needed: a panel for each variable of one response."""

from __future__ import annotations

from collections.abc import Sequence

from trials.design.howmany import WANTED, Curve
from trials.render.blocks import Figure
from trials.render.curves import CurveLine, CurvePanel, CurvePlot, curve_figure
from trials.study import labels_of
from trials.study.values import Response, Study
from trials.words.judging import size_text
from trials.words.naming import spread_name
from trials.words.numbers import plural


def told_curves(study: Study, curves: Sequence[Curve]) -> tuple[Curve, ...]:
    """Return the curves of the response that matters most: the primary one, else the first."""
    named = [response for response in study.responses if any(
        curve.response == response.name for curve in curves)]  # fmt: skip
    main = next((r for r in named if r.primary), named[0] if named else None)
    return tuple(c for c in curves if main is not None and c.response == main.name)


def chance_labels(response: Response) -> dict[str, str]:
    """Return what each chance of a curve is called; those that nothing is known of are left out."""
    ratio = response.compare == "ratio"
    out = {}
    if response.worthwhile is not None:
        size = size_text(response.worthwhile, ratio=ratio, unit=response.unit)
        out["worthwhile"] = f"{size} shows"
    if response.expected is not None:
        size = size_text(response.expected, ratio=ratio, unit=response.unit)
        out["expected"] = f"{size} shows"
    if response.worthwhile is not None:
        if response.expected is not None:
            out["expected_settled"] = f"answer 'mattered', if it is {size}"
        out["none_settled"] = "answer 'no practical difference', if there is none"
    return out


def unit_label(study: Study, curve: Curve) -> str:
    """Return what the factor's own units are called, in the plural."""
    return plural(study.item_name if curve.unit is None else labels_of(study)[curve.unit])


def power_figure(study: Study, curves: Sequence[Curve]) -> Figure | None:
    """Return the curves of the response that matters most; None where nothing is known of any."""
    told = [curve for curve in told_curves(study, curves) if curve.points]
    if not told:
        return None
    response = study.response(told[0].response)
    labels = labels_of(study)
    lines = chance_labels(response)
    if not lines:
        return None
    panels = tuple(
        CurvePanel(
            title=labels[curve.factor],
            across=f"{unit_label(study, curve)} a version",
            sizes=tuple(point.per_level for point in curve.points),
            now=next((p.per_level for p in curve.points if p.times == 1.0), None),
            lines=tuple(
                CurveLine(text, tuple(getattr(point, name) for point in curve.points))
                for name, text in lines.items()
            ),
        )
        for curve in told
    )
    return curve_figure(
        CurvePlot(
            "power-curve",
            panels,
            WANTED,
            f"How many are needed to tell about {response.label or response.name}: in how many of "
            "100 repeats of the whole study a difference would show, and what the answer would "
            f"be, for studies from small to large. Spread: {_source(response)}.",
        )
    )


def _source(response: Response) -> str:
    return spread_name(None if response.spread is None else response.spread.source)
