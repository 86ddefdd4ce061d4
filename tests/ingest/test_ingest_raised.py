"""Every kind of question: raised by files, in the table of codes, and answered as it says.

All numbers here are made up for the purpose.
"""

from __future__ import annotations

import ast
import datetime
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import trials
from tests.ingest.raised import Case, cases
from tests.words.pseudo import speaking_made_up
from trials.ingest import collect
from trials.record import Decision, Question, Store
from trials.words.forbidden import find_forbidden
from trials.words.language import speaking
from trials.words.question_codes import QUESTION_CODES

# Raised by reducers of curves or by spreadsheets: tests of their own, named here.
ELSEWHERE = {
    "date": "tests/ingest/test_ingest_workbook.py",
    "formula": "tests/ingest/test_ingest_workbook.py",
    "exchanged": "tests/reduction/test_reduction_sweep.py",
    "noisy": "tests/reduction/test_reduction_sweep.py",
}
ROOMS = ("ingest", "record", "reduction")
WHERE_CODE_STANDS = {"about_cell": 2, "about_item": 1, "about_time": 1, "Flag": 0}
PLAIN = re.compile(r"[A-Za-z][a-z]{2,}")
WHEN = datetime.datetime(2030, 5, 17, 9, 30, tzinfo=datetime.UTC)


def _taken(case: Case, store: Store, code: str) -> Question:
    if case.before is not None:
        case.before(store)
    for name, content in case.files:
        collect(store, content, name, case.study, case.plan)
    (question,) = [q for q in store.questions(only_open=True) if q.code == code]
    return question


def test_every_code_has_files_that_raise_it_or_a_test_elsewhere() -> None:
    assert {*cases(), *ELSEWHERE} == {*QUESTION_CODES}
    for code, file in ELSEWHERE.items():
        assert f'"{code}"' in Path(file).read_text(encoding="utf-8")


def _constants(node: ast.expr) -> Iterator[str]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from _constants(node.body)
        yield from _constants(node.orelse)
    elif isinstance(node, ast.Tuple | ast.List):
        for part in node.elts[:1]:
            yield from _constants(part)


def _raised_in(file: Path) -> Iterator[str]:
    """Yield every code that a file writes where a question or a flag takes its code."""
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            place = WHERE_CODE_STANDS.get(node.func.id)
            if place is not None and len(node.args) > place:
                yield from _constants(node.args[place])
            if node.func.id == "Question":
                yield from (
                    c for k in node.keywords if k.arg == "code" for c in _constants(k.value)
                )
        targets = node.targets if isinstance(node, ast.Assign) else []
        if any(
            isinstance(t, ast.Name)
            and t.id in ("code", "_ASKED", "DEVIATION", "LOST_WITH_READINGS")
            for t in targets
        ):
            assert isinstance(node, ast.Assign)
            value = node.value
            parts = value.elts if isinstance(value, ast.Tuple) else [value]
            for part in parts:
                yield from _constants(part)


def test_every_code_that_the_rooms_write_is_in_the_table() -> None:
    top = Path(trials.__file__).parent
    raised = {
        code for room in ROOMS for file in sorted((top / room).rglob("*.py"))
        for code in _raised_in(file)
    }  # fmt: skip
    assert raised - {*QUESTION_CODES} == set()
    assert len(raised) > 30


@pytest.mark.parametrize("code", list(cases()))
def test_it_is_asked_with_file_row_why_and_what_to_do(tmp_path: Path, code: str) -> None:
    with Store.open(tmp_path / "r.db") as store:
        asked = _taken(cases()[code], store, code)
    assert asked.file == "a.csv"
    assert (asked.row is None) == (code in ("readings_gone", "newer_copy"))
    assert asked.found
    assert asked.why.endswith((".", "?", ")"))
    for verb in asked.answers:
        assert verb in asked.do
    kind = QUESTION_CODES[code].must
    assert kind == "either" or asked.must == (kind == "must")
    assert QUESTION_CODES[code].about
    assert QUESTION_CODES[code].example


@pytest.mark.parametrize("code", list(cases()))
def test_it_is_told_in_another_language_too(tmp_path: Path, code: str) -> None:
    case = cases()[code]
    with Store.open(tmp_path / "r.db") as store:
        asked = _taken(case, store, code)
    assert (asked.found_told, asked.why_told) == (asked.found, asked.why)
    typed = " ".join(content.decode() for _, content in case.files)
    names = " ".join(name for name, _ in case.files)
    own = {*PLAIN.findall(f"{typed} {case.study.model_dump()} {case.plan.model_dump()} {names}")}
    own |= {"study", "toml", "low", "high", "dropped"}  # of files, their lines, and why it is lost
    with speaking_made_up():
        assert {*PLAIN.findall(asked.why_told)} <= own, asked.why_told
        assert {*PLAIN.findall(asked.found_told)} <= own, asked.found_told
        assert asked.why_told != asked.why
    with speaking("es"):
        assert find_forbidden(asked.why_told) == ()


def _value(asked: Question, verb: str) -> str:
    """Return what stands behind a verb: the proposal, else something that its words name."""
    if verb != "correct":
        return ""
    if asked.proposal:
        return asked.proposal
    if asked.acts_on == "time":
        return "+12:00" if len(asked.places) > 1 else "14:05"
    if asked.acts_on == "worked":
        return "no"
    if asked.acts_on == "identity":
        return "KM86"
    several = len(asked.places) > 1 and not asked.code.startswith("missing")
    return "x0.9" if several else {"V": "0.41", "mA": "1.2", "mm": "105"}.get(asked.unit, "800")


# a copy is taken in by its answer: tests/record/test_record_copies.py
CHANGING_ROWS_ONLY = [code for code in cases() if code != "newer_copy"]


@pytest.mark.parametrize("code", CHANGING_ROWS_ONLY)
def test_what_it_says_to_type_can_be_typed_and_closes_it(tmp_path: Path, code: str) -> None:
    """Every answer it offers; who, when and why are kept, and what was written stays for ever."""
    case = cases()[code]
    items = [row.item for row in case.plan.rows]
    with Store.open(tmp_path / "first.db") as store:
        verbs = _taken(case, store, code).answers
    for verb in verbs:
        with Store.open(tmp_path / f"{verb}.db", now=lambda: WHEN) as store:
            asked = _taken(case, store, code)
            written, files = store.rows(), store.files()
            said = Decision(verb, _value(asked, verb), "asked the team", "T3", sure=True)
            store.answer(asked.id, said, items)
            assert asked.id not in {q.id for q in store.questions(only_open=True)}
            closed = next(q for q in store.questions() if q.id == asked.id)
            assert (closed.answer, closed.answer_why, closed.answer_by, closed.answer_when) == (
                verb, "asked the team", "T3", "2030-05-17T09:30:00+00:00",
            )  # fmt: skip
            assert (store.rows(), store.files()) == (written, files)
            for name, content in case.files[-1:]:
                assert content == store.content(name, len(case.files))


@pytest.mark.parametrize("code", CHANGING_ROWS_ONLY)
def test_the_answer_stays_when_the_same_readings_come_with_more(tmp_path: Path, code: str) -> None:
    """A last answer replaces an earlier one, and both stand in the record."""
    case = cases()[code]
    items = [row.item for row in case.plan.rows]
    with Store.open(tmp_path / "r.db") as store:
        asked = _taken(case, store, code)
        for by in ("T1", "T2"):
            verb = asked.answers[-1]
            store.answer(asked.id, Decision(verb, _value(asked, verb), "w", by, True), items)
        closed = next(q for q in store.questions() if q.id == asked.id)
        assert closed.answer_by == "T2"
