"""The Spanish report of the demo: as easy to read as a text for everybody, and without jargon."""

from __future__ import annotations

import datetime
import re
from pathlib import Path

import pytest

from tests.words.reading_grade import szigriszt_pazos
from trials.analysis.findings import Ranked
from trials.report import story_of
from trials.words.forbidden import find_forbidden
from trials.words.language import speaking

from .made import make

REPORT = Path(__file__).parents[2] / "reports" / "aviones" / "report" / "report.txt"
# The INFLESZ scale of I. M. Barrio-Cantalejo and others (2008), Anales del Sistema Sanitario de
# Navarra 31, 135-152, for this measure (from memory): to 40 "very hard", to 55 "somewhat hard", to
# 65 "normal", to 80 "rather easy", above "very easy". From 55 on most grown-ups can read it; pupils
# of 15 are given the next step as a whole.
NORMAL, RATHER_EASY = 55, 65
FEW = 30  # words: a single caption says little of how hard a section is


@pytest.fixture(scope="module")
def sections() -> dict[str, str]:
    """Give the running text of each section of the student's part, without tables and figures."""
    part = REPORT.read_text(encoding="utf-8").split("EL INFORME\n")[1]
    part = part.split("\nCÓMO SE HIZO, CON TODO DETALLE\n")[0]
    found: dict[str, list[str]] = {}
    own: list[str] = []
    for block in part.strip().split("\n\n"):
        lines = block.strip("\n").split("\n")
        if len(lines) > 1 and re.fullmatch(r"-{3,}|\.{3,}", lines[1]):
            own = found.setdefault(lines[0], [])
            lines = lines[2:]
        text = "\n".join(lines)
        if re.search(r"^-{2,}  +-", text, re.MULTILINE) or text.startswith("[Gráfica"):
            continue
        for entry in re.split(r"\n(?=- |\d+\. |\| |\S+: )", text):
            words = re.sub(r"^(?:- |\d+\. )|[|]", "", " ".join(entry.split()))
            if len(words.split()) > 3:
                own.append(words if words.endswith((".", "?")) else f"{words}.")
    return {title: " ".join(texts) for title, texts in found.items() if texts}


def test_the_students_part_reads_easily(sections: dict[str, str]) -> None:
    assert {"La pregunta", "La respuesta", "Qué salió mal", "Palabras"} <= {*sections}
    whole = " ".join(sections.values())
    assert len(whole.split()) > 1000
    assert szigriszt_pazos(whole) >= RATHER_EASY
    for title, text in sections.items():
        if len(text.split()) >= FEW:
            assert szigriszt_pazos(text) >= NORMAL, title


def test_the_students_part_has_no_forbidden_word(sections: dict[str, str]) -> None:
    with speaking("es"):
        for title, text in sections.items():
            assert find_forbidden(text) == (), title


def test_ranks_have_their_unit_in_the_language_of_the_report() -> None:
    made = make("difference")
    ranks = {"unit": "rank", "ranked": Ranked(unit="mW", items=(), levels=())}
    made = made.with_found(made.found.model_copy(update=ranks))

    def unit() -> str:
        day = datetime.date(2030, 5, 17)
        story = story_of(
            made.study, made.plan, made.measured, made.findings, today=day, version="9.9"
        )
        return story.responses[0].unit

    assert unit() == "rank"
    with speaking("es"):
        assert unit() == "puesto"
