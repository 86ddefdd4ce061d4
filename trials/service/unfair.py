"""``trials demo --unfair``: a fair class beside an unfair one, as a page to show."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trials.design.columns import layout_of
from trials.design.draw import draw
from trials.design.simulation import is_exact
from trials.design.unfair import Classes, compare_classes
from trials.errors import FileError
from trials.files import as_typed, read_bytes, write_all, write_bytes
from trials.progress import progress
from trials.render.blocks import figures
from trials.render.html import html_page
from trials.render.paper import document_pdf
from trials.report.unfair_page import sentences, unfair_document
from trials.service.examples import example_folder
from trials.service.opening import open_study
from trials.study import Study
from trials.words.unfair import NOTHING_REAL
from trials.workspace import Workspace

EXAMPLE = "classes"
PAGES = "unfair"  # folder of the pages, below the study's
MANY, FEW = 2_000, 400  # classes simulated, where each takes no time, and where each is fitted
SEED = 1


@dataclass(frozen=True)
class Compared:
    """The two classes, and where their page is."""

    here: Workspace
    study: Study
    found: Classes

    @property
    def page(self) -> Path:
        """The page to show."""
        return self.here.folder / PAGES / "unfair.html"

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document of the verb."""
        return {"folder": str(self.here.folder), "page": str(self.page), **self.found.to_dict()}

    def text(self) -> list[str]:
        """Return what came of the classes, and how to play with them."""
        return [
            f"Two classes, the same luck, {self.found.studies} times. {NOTHING_REAL}",
            "",
            *(f"  {sentence}" for sentence in sentences(self.study, self.found)),
            "",
            f"The page to show: {self.page}",
            "Beside it: unfair.pdf to print, and the figure.",
            "",
            "Next, with numbers of your own:",
            f"  change the spread or the number of teams in {self.here.study}",
            f"  trials demo --unfair {as_typed(self.here.folder)}",
        ]


def run_unfair(folder: Path) -> Compared:
    """Simulate the classes of the study in a folder, and write the page; an empty one gets ours.

    Raises
    ------
    FileError : the folder holds something, but no study.
    StudyError, PlanError : the study can't be planned, or says too little for an unfair class.
    """
    here = Workspace(folder)
    if not here.study.exists():
        _refuse_full(here)
        write_bytes(here.study, read_bytes(example_folder(EXAMPLE) / "study.toml"))
    here, study = open_study(folder)
    with here.held(), progress("playing both classes") as tell:
        plan = draw(study, seed=SEED)
        studies = MANY if is_exact(study, layout_of(study, plan)) else FEW
        found = compare_classes(study, plan, studies=studies, seed=SEED, tell=tell)
        document = unfair_document(study, found)
        files = {"unfair.html": html_page(document).encode(), "unfair.pdf": document_pdf(document)}
        for figure in figures(document):
            files |= {f"{figure.name}.svg": figure.svg, f"{figure.name}.png": figure.png}
        write_all(here.folder / PAGES, files)
    return Compared(here, study, found)


def _refuse_full(here: Workspace) -> None:
    folder = here.folder
    if folder.exists() and any(not path.name.startswith(".") for path in folder.iterdir()):
        raise FileError(
            "The folder holds something, but no study.toml.",
            code="demo.folder",
            where=str(folder),
            allowed="an empty folder, a new one, or the folder of a study",
            do=f"Name another folder: trials demo --unfair {folder}-2",
        )
