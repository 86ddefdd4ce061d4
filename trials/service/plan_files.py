"""The plan to look at: a page and pictures beside plan.json."""

from __future__ import annotations

from collections.abc import Sequence

from trials.design.howmany import Curve
from trials.design.values import Plan
from trials.files import write_bytes
from trials.render.blocks import figures
from trials.render.html import html_page
from trials.report.plan_page import plan_document
from trials.report.power_plot import power_figure
from trials.study import Study
from trials.workspace import Workspace

PAGE = "plan.html"


def write_plan_page(here: Workspace, study: Study, plan: Plan) -> tuple[str, ...]:
    """Write plan.html, and its pictures as SVG and PNG; return the names of the files.

    Nothing is written for a plan that was not judged, or in which nothing is changed.
    """
    if not plan.factors or not plan.ties:
        return ()
    document = plan_document(study, plan)
    files = {PAGE: html_page(document).encode()}
    for figure in figures(document):
        files[f"{figure.name}.svg"] = figure.svg
        files[f"{figure.name}.png"] = figure.png
    for name, content in files.items():
        write_bytes(here.folder / name, content)
    return tuple(files)


def write_power_figure(here: Workspace, study: Study, curves: Sequence[Curve]) -> tuple[str, ...]:
    """Write the curves of how many are needed, as SVG and PNG; return the names of the files."""
    figure = power_figure(study, curves)
    if figure is None:
        return ()
    files = {f"{figure.name}.png": figure.png, f"{figure.name}.svg": figure.svg}
    for name, content in files.items():
        write_bytes(here.folder / name, content)
    return tuple(files)
