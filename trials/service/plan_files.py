"""The plan to look at: a page and two pictures beside plan.json."""

from __future__ import annotations

from trials.design.values import Plan
from trials.files import write_bytes
from trials.render.blocks import figures
from trials.render.html import html_page
from trials.report.plan_page import plan_document
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
