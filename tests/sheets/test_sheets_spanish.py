"""What is handed out to a class that works in Spanish: no English is left, and it comes back.

The reading ease is that of F. Szigriszt Pazos (1993), as for the Spanish report; from 65 on a text
is "rather easy" on the INFLESZ scale (I. M. Barrio-Cantalejo and others, 2008, Anales del Sistema
Sanitario de Navarra 31, 135-152; from memory).
"""

from __future__ import annotations

import datetime
import io
import re
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from pypdf import PdfReader

from tests.ingest.bench import ods
from tests.remembered import words_of_pages
from tests.words.catalogue import catalogue
from tests.words.reading_grade import szigriszt_pazos
from trials import sheets
from trials.classroom.lessons import schedule, timetable_of
from trials.design.values import Plan
from trials.errors import IngestError
from trials.ingest import workbook_layout as layout
from trials.ingest.headings import Vocabulary, layout_of
from trials.ingest.reader import read_file
from trials.ingest.workbook import sheets_of
from trials.sheets import Handouts, make_sheets
from trials.sheets.parts import Job
from trials.sheets.workbook import entry_workbook
from trials.study.reading import read_study
from trials.study.values import Study
from trials.words.forbidden import find_forbidden
from trials.words.language import LANGUAGES, speaking
from trials.words.spanish import plural
from trials.words.workbook import ABOUT, NOTE, PLAN, told

HandPlan = Callable[[Study, int], Plan]
TOLD = Path(__file__).parent / "spanish_class.toml"
FILES = (
    "cautions.pdf", "risk-form.pdf", "materials.pdf", "materials.csv", "timetable.pdf",
    "lesson.pdf", "labels.pdf", "making-sheets.pdf", "logbook.pdf", "measuring-sheets.pdf",
    "entry-workbook.xlsx",
)  # fmt: skip
RATHER_EASY = 65
VOC = "open-circuit voltage"
# in no Spanish text but as part of a command or a file's name
MOST_ENGLISH = {"the", "and", "of", "is", "with", "for", "not", "each", "what", "one", "all", "by"}
_NAMES = re.compile(r"[\w-]+\.(?:pdf|xlsx|csv|toml|md)\b|\[\w+\]|trials \w+ FOLDER[^.;]*|--\w+")
_TOLD_ON_SHEETS = re.compile(
    r"sheets/|reduction/|ingest/workbook_layout|render/(?:typeset|lesson_chart)|words/(?:bans|"
    r"cautions|class_times|durations|gone|hazards|in_order|labels|logbook|materials|numbers|protection|"
    r"quantity_names|teaching|workbook)\b"
)
_WORD = re.compile(r"(?<!\w)[^\W\d_]{3,}(?!\w)")


def _told() -> list[str]:
    """Return the Spanish texts that sheets may print."""
    return [
        str(one.string)
        for one in catalogue("es")
        if one.id and any(_TOLD_ON_SHEETS.match(file) for file, _ in one.locations)
    ]


def _words(text: str) -> set[str]:
    return {word.casefold() for word in _WORD.findall(_NAMES.sub(" ", text))}


@pytest.fixture(scope="module")
def timed(hand_plan: HandPlan) -> tuple[Study, Plan]:
    study = read_study(TOLD)
    plan = hand_plan(study, 12)
    table = timetable_of(study, schedule(study, plan, advise=False))
    return study, plan.model_copy(update={"timetable": table})


@pytest.fixture(scope="module")
def handed_out(timed: tuple[Study, Plan]) -> tuple[Handouts, ...]:
    """Give what is printed for a plan with its timetable, and without one once some are gone."""
    study, plan = timed
    codes = [row.item for row in plan.rows]
    untimed = plan.model_copy(update={"timetable": None})
    gone = make_sheets(
        study,
        untimed,
        label_size="70 x 37 mm",
        lost=(codes[0], codes[7]),
        unmade=(codes[1],),
        measured=(codes[4],),
    )
    return make_sheets(study, plan), gone


@pytest.fixture(scope="module")
def spanish() -> set[str]:
    """Give every word that may stand there: those of the Spanish texts, and the study's own."""
    known = _words(TOLD.read_text(encoding="utf-8"))
    for text in _told():
        known |= _words(re.sub(r"\{[^{}]*\}", " ", text))
    return known | {plural(word) for word in known}


def _text(name: str, content: bytes) -> str:
    if name.endswith(".pdf"):
        return re.sub(r"(?<=\w)\u00ad (?=\w)", "", " ".join(words_of_pages(content)))
    if name.endswith(".csv"):
        return content.decode("utf-8-sig")
    texts: list[str] = []
    for page in load_workbook(io.BytesIO(content)).worksheets:
        texts.append(page.title)
        texts += [str(cell.value) for row in page.iter_rows() for cell in row if cell.value]
        for rule in page.data_validations.dataValidation:
            texts += [rule.promptTitle, rule.prompt, rule.errorTitle, rule.error]
    return " ".join(texts)


def test_a_step_between_lessons_stands_with_its_times_and_no_page_has_it_alone(
    handed_out: tuple[Handouts, ...],
) -> None:
    pages = [*words_of_pages(handed_out[0].files["timetable.pdf"])]
    between = [page for page in pages if "Seis vidrios van juntos al horno" in page]
    assert len(pages) == 3
    assert [page.startswith("Entre las clases 1 y 2: la persona adulta") for page in between] == [
        True
    ]
    assert all("horario 1 página" in page for page in pages)


@pytest.mark.parametrize("name", FILES)
def test_no_english_is_left(name: str, handed_out: tuple[Handouts, ...], spanish: set[str]) -> None:
    assert spanish.isdisjoint(MOST_ENGLISH)
    for handouts in handed_out:
        if name not in handouts.files:
            assert name == "lesson.pdf"
            continue
        content = handouts.files[name]
        text = _text(name, content)
        assert len(text) > 100
        assert {word for word in _words(text) if word not in spanish} == set()
        with speaking("es"):
            assert find_forbidden(text) == ()
        if name.endswith(".pdf"):
            assert str(PdfReader(io.BytesIO(content)).root_object["/Lang"]) == "es"


def _markup(source: str) -> list[str]:
    """Return the words that a page's pattern itself holds: what stands in [ ] and is no code."""
    plain = re.sub(r"//.*", "", re.sub(r'"[^"\n]*"', '""', source))
    found = []
    while blocks := re.findall(r"\[([^\[\]]*)\]", plain):
        for block in blocks:
            bare = re.sub(r"#if [^\[{#]*(?:\{[^}]*\})?", "", block)
            bare = re.sub(r"#[\w.-]+(?:\([^()]*\)[\w.-]*)*", "", bare)
            found += re.findall(r"[A-Za-z]{2,}", bare)
        plain = re.sub(r"\[[^\[\]]*\]", "", plain)
    return found


@pytest.mark.parametrize(
    "path", sorted(Path(sheets.__file__).parent.glob("*.typ")), ids=lambda path: path.name
)
def test_a_pages_pattern_holds_no_words(path: Path) -> None:
    """Words come with the data, so that a branch that no test prints is in Spanish as well."""
    assert _markup(path.read_text(encoding="utf-8")) == []


def test_what_is_no_word_of_a_pattern() -> None:
    assert _markup("table.header([Code], [#words.done]) // [a remark]") == ["Code"]
    assert _markup('par[#strong(one) #if x != "" { y }, #tick yes [#n]]') == ["yes"]


def test_the_screen_is_told_in_english_what_each_file_is_for(
    handed_out: tuple[Handouts, ...], spanish: set[str]
) -> None:
    for handouts in handed_out:
        assert {name for name, _ in handouts.listing} <= set(FILES)
        for name, purpose in handouts.listing:
            assert len(_words(purpose) & MOST_ENGLISH) > 0, name
            assert len(_words(purpose) - spanish) > 3, name


def test_the_sheets_read_easily() -> None:
    texts = [re.sub(r"\{[^{}]*\}", "celda", text) for text in _told()]
    whole = [text for text in texts if text.endswith((".", "?")) and len(text.split()) > 5]
    assert len(whole) > 50
    assert szigriszt_pazos(" ".join(whole)) >= RATHER_EASY


def _workbook(study: Study, plan: Plan) -> bytes:
    with speaking(study.language):
        return entry_workbook(Job(study, plan, "a4"))


def _typed(timed: tuple[Study, Plan]) -> tuple[Any, str]:
    """Return the workbook with two readings of one item typed in, and its code."""
    study, plan = timed
    book: Any = load_workbook(io.BytesIO(_workbook(study, plan)))
    page = book.worksheets[1]
    with speaking("es"):
        names = layout.headings_of(study)
    head = next(row for row in range(1, 9) if page.cell(row, 1).value == names[0])
    assert [page.cell(head, place).value for place in range(1, len(names) + 1)] == list(names)
    at = {name: place for place, name in enumerate(names, 1)}
    for row, (volts, minute) in enumerate((("0,412", 5), ("0,41", 6)), head + 1):
        page.cell(row, at["voltaje en circuito abierto (V)"]).value = volts
        page.cell(row, at["corriente de cortocircuito (mA)"]).value = "1,25"
        page.cell(row, at["voltaje con carga (V)"]).value = "0,3"
        page.cell(row, at["luz (W/m^2)"]).value = 801
        page.cell(row, at["hora (hora:minuto)"]).value = datetime.time(14, minute)
    page.cell(head + 1, at["área activa (cm^2)"]).value = "4,0"
    page.cell(head + 1, at["¿funcionó?"]).value = "sí"
    page.cell(head + 2, at["nota"]).value = "la lámpara parpadeó"
    code = page.cell(head + 1, 1).value
    page.cell(head + 4, at["¿funcionó?"]).value = "no"
    return book, code


@pytest.mark.parametrize("saved_as", ["xlsx", "ods"])
def test_a_spanish_workbook_comes_back(saved_as: str, timed: tuple[Study, Plan]) -> None:
    book, code = _typed(timed)
    out = io.BytesIO()
    book.save(out)
    content = out.getvalue()
    if saved_as == "ods":  # what stands in its cells, as OpenDocument
        content = ods(
            {
                sheet.name: [[cell.text for cell in line.cells] for line in sheet.lines]
                for sheet in sheets_of(content, "datos.xlsx")
            }
        )
    intake = read_file(content, f"datos.{saved_as}", *timed)
    assert "not this study's entry workbook" not in " ".join(intake.notes)
    assert intake.questions == ()
    one, two = (row for row in intake.rows if row.item == code)
    volts = [cell.value for row in (one, two) if (cell := row.cell(VOC)) is not None]
    assert volts == [Decimal("0.412"), Decimal("0.41")]
    assert (one.time, one.worked, two.note) == ("14:05", True, "la lámpara parpadeó")
    assert [row.worked for row in intake.rows if row.item != code] == [False]
    assert dict(one.groups)["equipo"] in ("arce", "olmo", "roble")


def test_a_spanish_workbook_of_another_plan_is_known_for_one(timed: tuple[Study, Plan]) -> None:
    study, plan = timed
    other = _workbook(study, plan.model_copy(update={"seed": 2}))
    with pytest.raises(IngestError, match="another plan"):
        read_file(other, "viejo.xlsx", study, plan)


@pytest.mark.parametrize("code", LANGUAGES)
def test_every_heading_and_name_is_known_again(code: str, timed: tuple[Study, Plan]) -> None:
    study, plan = timed
    with speaking(code):
        content = _workbook(study.model_copy(update={"language": code}), plan)
        about, first = told(ABOUT), told(PLAN)
        last = told(NOTE)
    sheets = sheets_of(content, "a.xlsx")
    assert sheets[0].name == about
    assert first in [line.at(0).text for line in sheets[0].lines]
    found = layout_of(sheets[1], Vocabulary.of(study, plan))
    assert found is not None
    assert found.unknown == ()
    assert None not in (found.reading, found.time, found.worked, found.note)
    assert found.line.at(found.note or 0).text == last
    assert len(found.raw) == len(layout.raw_columns(study))
