"""Nine plain answers make a whole study; an answer that can't be used is told kindly."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.sizes import examples
from trials.errors import StudyError
from trials.study import Study, check_study, members_in_all, parse_study, write_study
from trials.study import answers as meaning
from trials.study.asking import (
    KEYS,
    check_answer,
    default_answer,
    questions,
    read_answers,
    study_from_answers,
    write_answers,
)

CELLS = {
    "question": "Does dye or heat matter?",
    "change": "dye, heat, soak time",
    "versions": "heat: oven, burner; dye: hibiscus, beetroot; soak time: 5 min, 15 min, 45 min",
    "measure": "power in mW, 3 readings",
    "items": "48 cells",
    "makers": "class 9b, 6 teams",
    "together": "2 lessons; heat in batches of 6",
    "same": "one paste; one pack of glass",
    "worthwhile": "30 %",
}


def refused(key: str, text: str, so_far: dict[str, str] | None = None) -> StudyError:
    with pytest.raises(StudyError) as caught:
        check_answer(key, text, so_far if so_far is not None else CELLS)
    return caught.value


def test_there_are_nine_questions_each_with_an_example_and_a_default() -> None:
    assert len(questions()) == 9
    so_far: dict[str, str] = {}
    for question in questions():
        assert question.wording.endswith("?")
        assert question.gloss
        default = default_answer(question.key, so_far)
        check_answer(question.key, default, so_far)
        so_far[question.key] = default


def test_each_example_is_an_answer_that_works() -> None:
    for question in questions():
        if question.key not in ("change", "versions"):
            check_answer(question.key, question.example, {})
    both = {q.key: q.example for q in questions() if q.key in ("change", "versions")}
    assert [factor.name for factor in study_from_answers(both).factors] == [
        "dye",
        "heat",
        "soak time",
    ]


def test_nothing_but_defaults_is_eight_paper_planes() -> None:
    study = study_from_answers({})
    assert study.factor("shape").levels == ("dart", "glider")
    assert study.response("distance").unit == "m"
    assert (study.limits.items, study.limits.copies) == (8, 4)
    assert study.groups == ()


def test_a_class_of_six_teams_in_two_lessons() -> None:
    study = study_from_answers(CELLS)
    assert study.item_name == "cell"
    assert [factor.name for factor in study.factors] == ["dye", "heat", "soak time"]
    assert study.factor("heat").applied_to == "batch"
    soak = study.factor("soak time")
    assert (soak.levels, soak.kind, soak.unit, soak.scale) == (
        ("5", "15", "45"),
        "quantity",
        "min",
        "log",
    )
    assert study.group("team").role == "maker"
    assert members_in_all(study, "team") == 6
    assert study.path("batch") == "lesson/batch"
    assert members_in_all(study, "batch") == 8
    assert study.group("batch").capacity == 6
    assert study.group("batch").step == "heat"
    power = study.response("power")
    assert (power.compare, power.worthwhile, power.expected) == ("ratio", 1.3, 1.69)
    assert power.spread is not None
    assert power.spread.source == "shipped guess"
    assert set(power.spread.groups) == {"team", "lesson", "batch"}
    assert [step.name for step in study.steps] == ["make", "heat", "measure"]
    assert (study.limits.items, study.limits.copies) == (48, 4)


def test_a_difference_in_the_unit_that_is_measured() -> None:
    study = study_from_answers({"worthwhile": "0,5 m", "measure": "distance (m), less is better"})
    response = study.response("distance")
    assert (response.compare, response.worthwhile, response.expected) == ("difference", 0.5, 1.0)
    assert (response.better, response.readings, response.reducer) == ("low", 1, "value")


def test_a_practice_run_is_four_items_alike_by_two_makers() -> None:
    study = study_from_answers({"measure": "mass in g, 3 readings"}, practice=True)
    assert study.practice
    assert study.factors == ()
    assert (study.limits.items, members_in_all(study, "maker")) == (4, 2)
    assert [question.key for question in questions(practice=True)] == ["measure", "same"]


def test_a_practice_run_takes_the_words_of_a_whole_set_of_answers() -> None:
    study = study_from_answers(CELLS, practice=True)
    assert (study.item_name, study.group("team").count) == ("cell", 2)


@pytest.mark.parametrize("practice", [False, True])
def test_a_study_from_answers_survives_its_file(practice: bool) -> None:
    study = study_from_answers(CELLS, practice=practice)
    assert parse_study(write_study(study)) == study


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("nothing", ()),
        ("Nothing.", ()),
        ("none", ()),
        ("1 lesson", ()),
        ("two afternoons", (("afternoon", 2, "", None),)),
        ("heat in 8 firings of 6", (("firing", 8, "heat", 6),)),
        ("brewing in pots of 4; 3 days", (("pot", None, "brewing", 4), ("day", 3, "", None))),
    ],
)
def test_what_belongs_together(text: str, expected: tuple[object, ...]) -> None:
    found = meaning.together(text)
    assert tuple((one.word, one.count, one.thing, one.size) for one in found) == expected


@pytest.mark.parametrize(
    ("text", "name", "unit"),
    [
        ("distance in m", "distance", "m"),
        ("height, mm", "height", "mm"),
        ("light let through [%]", "light let through", "%"),
        ("power per area in mW/cm²", "power per area", "mW/cm²"),
        ("number of leaves", "number of leaves", ""),
    ],
)
def test_what_is_measured(text: str, name: str, unit: str) -> None:
    found = meaning.measure(text)
    assert (found.name, found.unit) == (name, unit)


def test_versions_with_mixed_units_or_words_stay_names() -> None:
    found = meaning.versions(
        "a: 10 min, 1 h; b: 3 mm nail, 4 mm nail; c: 5 mm, 10", ["a", "b", "c"]
    )
    assert found["a"].kind == "category"
    assert found["b"].kind == "quantity"
    assert found["b"].unit == "mm nail"
    assert (found["c"].kind, found["c"].levels, found["c"].unit) == ("quantity", ("5", "10"), "mm")


REFUSED = (
    ("change", ";", "At least one thing has to be changed, or there is nothing to compare."),
    ("change", "dye, Dye", "The same thing is named twice."),
    ("change", "run", "A thing can't be called 'run': the plan has a column of that name."),
    ("change", "a/b", "The name of a thing holds a sign that is needed for other things."),
    ("versions", "a, b", "It isn't clear which of the things these versions belong to."),
    ("versions", "dye: a, b", "The versions of 'heat' are missing."),
    (
        "versions",
        "dye: a; heat: b, c; soak time: 1, 2",
        "'dye' needs two different versions or more.",
    ),
    ("versions", "dye: a, A; heat: b, c; soak time: 1, 2", "A version of 'dye' stands twice."),
    ("versions", "dye: a, b; dye: c, d", "The versions of 'dye' are given twice."),
    ("measure", "power", "The unit is missing."),
    ("measure", "power in mW, quickly", "A part of the answer isn't clear."),
    ("measure", "power in mW, 0 readings", "The number of readings can't be this."),
    ("measure", "heat in K", "A factor and a response are both called 'heat'."),
    ("items", "many", "This is not a number of things that can be made."),
    ("items", "-3", "This is not a number of things that can be made."),
    ("items", "11", "There are more recipes than items."),
    ("makers", "some people", "It isn't clear how many make them."),
    ("together", "whatever", "It isn't clear what belongs together here."),
    ("together", "heat in 2 batches of 6", "The items don't fit into 'batch'."),
    ("together", "6 teams", "Two groups are called 'team'."),
    ("together", "heat in batches of 0", "A number here can't be this."),
    ("worthwhile", "lots", "This is not a size of a difference."),
    ("worthwhile", "-5 %", "This is not a size of a difference."),
    ("worthwhile", "5 V", "This is another unit than the one you measure in."),
    ("worthwhile", "0.5 times", "'Times' needs a number above 1."),
    ("question", "x" * 3000, "The answer is too long."),
)


@pytest.mark.parametrize(
    ("key", "text", "what"), REFUSED, ids=[f"{r[0]}-{r[1][:20]}" for r in REFUSED]
)
def test_answers_that_can_not_be_used(key: str, text: str, what: str) -> None:
    error = refused(key, text)
    assert error.what == what
    assert error.allowed
    assert error.do
    assert error.where.startswith("'")
    assert error.where.endswith("?'")


def test_a_whole_message_of_a_refused_answer() -> None:
    assert refused("versions", "dye: a, b; heet: c, d").text() == (
        "These versions belong to something that you don't change.\n"
        "Where: 'Which versions of each will you compare?'\n"
        "Found: heet\n"
        "Allowed: dye, heat, soak time\n"
        "What to do: Did you mean 'heat'?"
    )


ANYTHING = st.one_of(
    st.text(max_size=30),
    st.lists(
        st.sampled_from(
            ["dye", "heat", ":", ";", ",", "2", "0", "in", "batches", "of", "6", "%", "m", "teams",
             "readings", "(", ")", "1e5", "nan", "inf", "-3", "½", "²", "٣", "run", "make"]
        ),
        max_size=10,
    ).map(" ".join),
)  # fmt: skip


@pytest.mark.long
@given(st.dictionaries(st.sampled_from(KEYS), ANYTHING, max_size=9), st.booleans())
@settings(derandomize=True, max_examples=examples(150, 400), deadline=None)
def test_any_answers_make_a_study_or_a_message(answers: dict[str, str], practice: bool) -> None:
    study: Study | None = None
    told: StudyError | None = None
    try:
        study = study_from_answers(answers, practice=practice)
    except StudyError as error:
        told = error
    if study is not None:
        check_study(study)
        assert parse_study(write_study(study)) == study
    if told is not None:
        assert told.do
        assert told.where in KEYS


def test_answers_from_a_file(tmp_path: Path) -> None:
    path = tmp_path / "answers.toml"
    path.write_text(write_answers(CELLS), encoding="utf-8")
    assert read_answers(path) == study_from_answers(CELLS)


def test_answers_may_be_numbers_and_lists(tmp_path: Path) -> None:
    path = tmp_path / "answers.toml"
    path.write_text(
        'question = "Q?"\nchange = ["dye", "heat"]\n'
        'versions = ["dye: a, b", "heat: c, d"]\nmeasure = "x in m"\nitems = 12\n',
        encoding="utf-8",
    )
    study = read_answers(path)
    assert study.limits.items == 12
    assert study.factor("heat").levels == ("c", "d")


@pytest.mark.parametrize(
    ("line", "message"),
    [
        (
            'items = "x"',
            "This is not a number of things that can be made.\n"
            "Where: {path}, line 5, items\n"
            "Found: x\n"
            "Allowed: a whole number from 1 to 10000, and if you like what they are\n"
            "What to do: For instance: 48 cells",
        ),
        (
            'itms = "12"',
            "There is no question 'itms'.\n"
            "Where: {path}, line 5, itms\n"
            "Found: itms\n"
            "Allowed: question, change, versions, measure, items, makers, together, same, "
            "worthwhile\n"
            "What to do: Did you mean 'items'?",
        ),
        (
            "items = true",
            "An answer has to be a text.\n"
            "Where: {path}, line 5, items\n"
            "Found: true\n"
            "Allowed: a text in quotes, a number, or a list of texts\n"
            "What to do: Put the answer in quotes.",
        ),
    ],
)
def test_a_wrong_line_in_a_file_of_answers(tmp_path: Path, line: str, message: str) -> None:
    path = tmp_path / "answers.toml"
    path.write_text(
        f'question = "Q?"\nchange = "dye"\nversions = "a, b"\nmeasure = "x in m"\n{line}\n',
        encoding="utf-8",
    )
    with pytest.raises(StudyError) as caught:
        read_answers(path)
    assert caught.value.text() == message.format(path=path)


def test_a_needed_answer_is_missing(tmp_path: Path) -> None:
    path = tmp_path / "answers.toml"
    path.write_text('question = "Q?"\nversions = "a, b"\nmeasure = "x in m"\n', encoding="utf-8")
    with pytest.raises(StudyError) as caught:
        read_answers(path)
    assert caught.value.what == "The answer to 'What will you change?' is missing."
    assert caught.value.do == 'Add a line such as: change = "dye, heat, soak time"'
