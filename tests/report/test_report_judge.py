"""The judge's page on hand-made findings: every verdict, nothing settled, nothing left."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from functools import cache
from typing import Any, cast

import pytest
from pypdf import PdfReader
from pypdf.generic import DictionaryObject, StreamObject

from tests.words.reading_grade import flesch_kincaid
from trials.analysis.findings import Comparison, Crossing, Findings, MissingLevel, OtherVerdict
from trials.design.looks import confidence_of
from trials.design.values import AuditFinding, Detectable, PlanPart
from trials.errors import RequestError
from trials.record.values import ItemValue, Place, Row
from trials.render.blocks import Lines, Paragraph, Remark, texts, walk
from trials.render.paper import document_pdf
from trials.report import judge_document, story_of
from trials.report.technical import method_section
from trials.words.certificate import CERTIFICATE
from trials.words.forbidden import find_causal, find_forbidden
from trials.words.judge import QUESTIONS
from trials.words.numbers import NBSP

from .made import TODAY, Made, a_question, make

OPEN = dict.fromkeys(("dye", "heat", "coats"), ("not settled", "wide"))
SETTLED = {
    "dye": ("mattered", "beyond"),
    "heat": ("mattered", "beyond"),
    "coats": ("made no practical difference", "inside"),
}
REASONS = (
    ("mattered", "beyond"),
    ("made no practical difference", "inside"),
    ("made no practical difference", "clear_but_small"),
    ("not settled", "inside_on_average"),
    ("not settled", "clear_not_surely_big"),
    ("not settled", "wide"),
    ("not settled", "no_replication"),
    ("not settled", "no_variation"),
    ("not settled", "not_compared"),
    ("not settled", "error_unsure"),
    ("not settled", "failures_disagree"),
    ("not settled", "one_level"),
    ("not settled", "no_residual_df"),
    ("not settled", "tied"),
    ("not settled", "at_least"),
)


def page(made: Made) -> Any:
    story = story_of(
        made.study, made.plan, made.measured, made.findings, today=TODAY, version="9.9"
    )
    return judge_document(story)


def answers(made: Made) -> dict[str, str]:
    """Return each question's answer by its key."""
    out = {}
    for section in walk(page(made).parts[0].sections):
        if section.key.startswith("judge-"):
            told, lines = section.blocks
            assert isinstance(told, Paragraph)
            assert isinstance(lines, Lines)
            out[section.key.removeprefix("judge-")] = told.text.replace(NBSP, " ")
    return out


def certified(made: Made) -> str:
    """Return the certificate's lines; "" where there is none."""
    remarks = [
        block
        for section in page(made).parts[0].sections
        for block in section.blocks
        if isinstance(block, Remark) and block.title == CERTIFICATE
    ]
    return "".join(
        part.text.replace(NBSP, " ") + "\n"
        for remark in remarks
        for part in remark.body
        if isinstance(part, Paragraph)
    )


def with_plan(made: Made, **changes: Any) -> Made:
    plan = made.plan.model_copy(update=changes)
    findings = made.findings.model_copy(update={"plan_digest": plan.digest()})
    return replace(made, plan=plan, findings=findings)


@cache
def usual() -> dict[str, str]:
    return answers(make("difference"))


def nothing_left(status: Any) -> Made:
    made = make("difference")
    values = tuple(
        ItemValue(row.item, "power", status, None, None, None, 0) for row in made.plan.rows
    )
    return replace(
        made,
        measured=replace(made.measured, values=values),
        findings=made.findings.model_copy(update={"responses": ()}),
    )


def all_cases() -> dict[str, Made]:
    cases = {
        f"{scale} {reason}": make(
            scale, verdicts={"dye": (verdict, reason), **{n: OPEN[n] for n in ("heat", "coats")}},
            failed=failed,
        )
        for scale in ("difference", "ratio")
        for (verdict, reason), failed in zip(REASONS, [0, 2, 0] * 5, strict=True)
    }  # fmt: skip
    return cases | {
        "settled": make("ratio", verdicts=SETTLED, failed=0),
        "open": make("ratio", verdicts=OPEN, failed=0),
        "no margin": make("difference", worthwhile=0),
        "depends": crossed(turns=True),
        "depends on how much": crossed(turns=False),
        "all lost": nothing_left("lost"),
        "all failed": nothing_left("failed"),
        "not by lot": not_by_lot(),
        "extended": extended(looked=False),
        "after looking": extended(looked=True),
        "planned look": planned_look(),
        "bare": bare(),
        "a version missing": without_beetroot(OPEN),
        "a version missing, settled": without_beetroot(SETTLED),
    }


def crossed(*, turns: bool) -> Made:
    made = make("difference", failed=0)
    pairs = [c for c in made.found.comparisons if c.term == "dye:heat" and "oven" in c.a.values()]

    def at(dye: str, difference: float) -> Comparison:
        one = next(c for c in pairs if c.a["dye"] == c.b["dye"] == dye)
        low, high = difference - 0.09, difference + 0.09
        return one.model_copy(update={"difference": difference, "interval_adjusted": (low, high)})

    crossing = Crossing(
        term="dye:heat", factor="heat", within="dye", one=at("hibiscus", 0.2107),
        other=at("beetroot", -0.1913 if turns else 0.0113), turns=turns, beyond=True,
    )  # fmt: skip
    verdicts = tuple(
        v.model_copy(update={"verdict": "not settled", "reason": "depends"})
        if v.factor == "heat"
        else v.model_copy(update={"verdict": "not settled", "reason": "wide"})
        for v in made.found.verdicts
    )
    return made.with_found(
        made.found.model_copy(update={"crossings": (crossing,), "verdicts": verdicts})
    )


def not_by_lot() -> Made:
    made = make("difference", verdicts=OPEN, failed=0)
    return with_plan(made, shuffle=made.plan.shuffle.model_copy(update={"size": 1.0}))


def extended(*, looked: bool) -> Made:
    made = make("difference", verdicts=OPEN, failed=0)
    shuffle = made.plan.shuffle
    parts = (
        PlanPart(items=36, seed=11, shuffle=shuffle),
        PlanPart(items=12, seed=12, shuffle=shuffle, looked=looked),
    )
    notes = (*made.found.method.notes, *(("after_looking",) if looked else ()))
    method = made.found.method.model_copy(update={"notes": notes})
    found = made.found.model_copy(update={"method": method})
    return with_plan(made.with_found(found), parts=parts)


def planned_look() -> Made:
    made = make("difference", verdicts=OPEN, failed=0)
    looks = made.study.plan.model_copy(update={"looks": 2})
    shuffle = made.plan.shuffle
    parts = (
        PlanPart(items=36, seed=11, shuffle=shuffle),
        PlanPart(items=12, seed=12, shuffle=shuffle, looked=True),
    )
    study = made.study.model_copy(update={"plan": looks})
    return with_plan(replace(made, study=study), parts=parts)


def without_beetroot(reasons: dict[str, tuple[str, str]]) -> Made:
    """No cell with beetroot gave a value."""
    made = make("difference", verdicts=reasons)
    gone = MissingLevel(factor="dye", level="beetroot", planned=16, failed=16, lost=0)
    pairs = tuple(
        c for c in made.found.comparisons
        if "beetroot" not in (*c.a.values(), *c.b.values())
    )  # fmt: skip
    return made.with_found(
        made.found.model_copy(update={"missing_levels": (gone,), "comparisons": pairs})
    )


def bare() -> Made:
    """A study that leaves unsaid what can be left unsaid, with a plan that nobody locked."""
    made = make("difference", verdicts=OPEN)
    study = made.study.model_copy(
        update={"prediction": "", "same": (), "makers": "", "note": "", "steps": ()}
    )
    return with_plan(replace(made, study=study), locked=None)


CASES = all_cases()


# ---- of every case -------------------------------------------------------------------------------


@pytest.mark.parametrize("case", CASES)
def test_every_answer_is_two_plain_sentences(case: str) -> None:
    told = answers(CASES[case])
    assert tuple(told) == tuple(QUESTIONS)
    assert len(told) == 12
    for key, text in told.items():
        plain = re.sub(r"“[^”]*”", "this.", text)  # what a person wrote may be longer
        sentences = re.findall(r"[.?!](?=\s|$)", plain)
        assert len(sentences) == 2, (key, text)
        assert "None" not in text
        assert "  " not in text
        assert text[0].isupper()


@pytest.mark.parametrize("case", CASES)
def test_no_answer_says_what_a_student_should_not(case: str) -> None:
    text = "\n".join(texts(page(CASES[case]).parts[0].sections))
    assert find_forbidden(text) == ()  # among them: proves, significant


@pytest.mark.parametrize("case", CASES)
def test_a_fifteen_year_old_can_read_it(case: str) -> None:
    told = answers(CASES[case])
    text = " ".join([*told.values(), certified(CASES[case])])
    assert flesch_kincaid(text) <= 9.0


def test_without_lots_nothing_is_called_a_cause() -> None:
    for reasons in (OPEN, SETTLED):
        made = with_plan(
            make("difference", verdicts=reasons, failed=0),
            shuffle=make("difference").plan.shuffle.model_copy(update={"size": 1.0}),
        )
        told = answers(made)
        ours = re.sub(r"“[^”]*”", "", "\n".join(told.values()))  # not what a person wrote
        assert find_causal(ours) == ()
        assert "nothing left for lots to decide" in told["shared_out"]
        assert "can't say what the reason is" in told["limits"]
        assert certified(made) == ""


# ---- answers -------------------------------------------------------------------------------------


def test_the_usual_answers() -> None:
    told = usual()
    assert "“Which of dye, heat and coats changes the power of a hand-made cell?”" in told["why"]
    assert "“Hibiscus gives the most power.”" in told["why"]
    assert told["changed"].startswith(
        "We changed dye (3 versions), heat (2 versions) and coating passes (2 versions), and we "
        "measured power in mW. For every cell we kept 2 things the same, for example: one batch"
    )
    assert told["many"].startswith(
        "We planned 48 cells, so that each version of dye was on 16 cells, of heat on 4 firings "
        "and of coating passes on 24 cells."
    )
    assert told["shared_out"].startswith("Lots decided: a computer drew the plan by chance out of")
    assert told["found"] == (
        "Of the cells that worked, dye mattered for power and coating passes made no practical "
        "difference. Heat is not settled, and that is not the same as 'no difference'."
    )
    assert told["wrong"].startswith("Of 48 cells planned, 45 gave a value: 2 failed and 1 was lost")
    assert told["looked"] == (
        "We say no: the plan was locked on 2030-05-02, but the record does not show that each "
        "reading came later. We had also said that we compare power, and care about 0.1 mW or "
        "more."
    )
    assert told["limits"].endswith(
        "It can't tell yet whether heat matters, and it tells only of cells that worked."
    )
    assert told["next"].startswith("We would check the winner: make fresh cells with hibiscus, as")
    assert "; make at least 3 of each." in told["next"]
    assert "Heat is still open: about 6 more firings of each kind" in told["next"]
    assert "Six teams of an invented school" in told["helped"]


@pytest.mark.parametrize("scale", ["difference", "ratio"])
def test_numbers_are_those_of_the_findings(scale: Any) -> None:
    made = make(scale)
    told = answers(made)
    verdict = next(v for v in made.found.verdicts if v.factor == "dye")
    low, high = verdict.interval or (None, None)
    shown = [float(x) for x in re.findall(r"\d+\.\d+", told["size"])]
    assert shown[:3] == [
        pytest.approx(x, abs=0.00501) for x in (verdict.largest_difference, low, high)
    ]
    assert shown[3] == verdict.worthwhile
    effect = next(e for e in made.found.effects if e.term == "dye")
    assert effect.p_randomisation == pytest.approx(0.000132)
    assert "in fewer than 1 of 1000 repeats" in told["luck"]


def test_the_variable_that_stands_out_leads() -> None:
    settled = {"dye": OPEN["dye"], "heat": ("mattered", "beyond"), "coats": OPEN["coats"]}
    told = answers(make("difference", verdicts=settled, failed=0))
    assert "oven gave" in told["size"].lower()
    assert "firings with the same version differ anyway" in told["luck"]


def test_by_the_fit_alone_the_yardstick_is_told_without_lots() -> None:
    made = make("difference")
    effects = tuple(e.model_copy(update={"p_randomisation": None}) for e in made.found.effects)
    told = answers(made.with_found(made.found.model_copy(update={"effects": effects})))
    assert told["luck"] == (
        "If dye made no difference, versions this far apart would turn up in fewer than 1 of 1000 "
        "repeats. The test asks how far cells with the same version differ anyway."
    )
    effects = tuple(e.model_copy(update={"p": None}) for e in effects)
    told = answers(made.with_found(made.found.model_copy(update={"effects": effects})))
    assert told["luck"].startswith("For dye we don't know: there is too little to judge luck by.")


def test_two_variables_together_are_told_together() -> None:
    told = answers(CASES["depends"])
    assert told["found"].startswith("Which version of heat wins depends on dye.")
    assert told["size"].startswith("With hibiscus, oven gave 0.211 mW more than burner (")
    assert "with beetroot, burner gave 0.191 mW more than oven (" in told["size"]
    assert certified(CASES["depends"]) == ""  # something is settled
    assert answers(CASES["depends on how much"])["found"].startswith(
        "How much heat matters depends on dye."
    )


def test_luck_of_two_variables_together_is_that_of_the_pair() -> None:
    made = CASES["depends"]
    effects = tuple(
        e.model_copy(update={"p": 0.0008, "p_adjusted": 0.002, "p_randomisation": 0.0009})
        if e.term == "dye:heat"
        else e.model_copy(update={"p": 0.9, "p_randomisation": 0.9})
        for e in made.found.effects
    )
    told = answers(made.with_found(made.found.model_copy(update={"effects": effects})))
    assert told["luck"] == (
        "If heat did the same with every version of dye, a pattern this uneven would turn up in "
        "about 2 of 1000 repeats. The test asks how far cells with the same versions differ "
        "anyway."
    )


def test_without_lots_no_lots_are_drawn_again() -> None:
    assert "lots" not in answers(CASES["not by lot"])["luck"]
    assert "versions this far apart would turn up" in answers(CASES["not by lot"])["luck"]


def test_a_label_may_hold_the_word_on() -> None:
    made = make("difference")
    factors = tuple(
        f.model_copy(update={"label": "dye on glass"}) if f.name == "dye" else f
        for f in made.study.factors
    )
    study = made.study.model_copy(update={"factors": factors})
    told = answers(with_plan(replace(made, study=study), study_digest=study.digest()))
    assert "each version of dye on glass was on 16 cells, of heat on 4 firings" in told["many"]


def test_with_nothing_left_the_page_says_so() -> None:
    for status, word in (("lost", "were lost"), ("failed", "failed")):
        made = nothing_left(status)
        told = answers(made)
        for key in ("found", "size", "luck"):
            assert told[key].startswith("No cell gave a value, so there is no answer yet.")
        assert f"Of 48 cells planned, 0 gave a value: 48 {word}." in told["wrong"]
        assert "find out why none gave a value" in told["next"]
        assert certified(made) == ""


def test_looks_at_the_results_are_told() -> None:
    assert answers(CASES["after looking"])["looked"].startswith(
        "Yes: we knew results when we added 12 cells, and our plan had not said so."
    )
    assert certified(CASES["after looking"]) == ""
    assert answers(CASES["planned look"])["looked"] == (
        "We looked once, as our plan had said, and then added 12 cells. To pay for that look all "
        "ranges are wider: they hold in about 97 of 100 studies."
    )
    assert "12 cells were added later by a new draw" in answers(CASES["extended"])["shared_out"]
    assert answers(CASES["extended"])["looked"].startswith("We say no: the plan was locked")
    changed = OtherVerdict(factor="dye", changes=("worthwhile = 3",), verdict="not settled")
    made = make("difference")
    told = answers(made.with_found(made.found.model_copy(update={"other_verdicts": (changed,)})))
    assert told["looked"].endswith("changed later, and our answer does not use the change.")


def test_the_lock_is_said_to_come_first_only_where_the_record_shows_it() -> None:
    made = make("difference")
    for times, first in (
        (("2030-05-03 10:05", "2030-05-04 9:00"), True),
        (("2030-05-03 10:05", "2030-05-02 9:00"), False),  # on the day it was locked
        (("2030-05-03 10:05", "9:00"), False),  # the day of one is not known
        (("2030-04-30 10:05",), False),
        ((), False),
    ):
        rows = tuple(
            Row(Place("a.csv", "", n), made.plan.rows[0].item, n, time=time)
            for n, time in enumerate(times, 1)
        )
        one = replace(made, measured=replace(made.measured, readings=rows))
        assert ("before there was a result" in answers(one)["looked"]) == first
        story = story_of(
            one.study, one.plan, one.measured, one.findings, today=TODAY, version="9.9"
        )
        told = " ".join(texts((method_section(story),)))
        assert ("locked on 2030-05-02, before any result was known." in told) == first
        assert "locked on 2030-05-02" in told


def test_only_what_was_not_declared_counts_as_after_looking() -> None:
    made = extended(looked=True)
    shuffle = made.plan.shuffle
    parts = (
        PlanPart(items=24, seed=11, shuffle=shuffle),
        PlanPart(items=16, seed=12, shuffle=shuffle, looked=True),
        PlanPart(items=8, seed=13, shuffle=shuffle, looked=True),
    )
    looks = made.study.plan.model_copy(update={"looks": 2})
    options = made.study.analysis.model_copy(update={"confidence": 0.8})
    study = made.study.model_copy(update={"plan": looks, "analysis": options})
    told = answers(with_plan(replace(made, study=study), parts=parts))["looked"]
    assert told.startswith("Yes: we knew results when we added 8 cells")
    share = round(100 * (1 - confidence_of(study)))
    assert share > 5
    assert f"more often than in {share} of 100 studies" in told


def test_what_is_unsaid_is_said_to_be_unsaid() -> None:
    told = answers(CASES["bare"])
    assert "We wrote down no prediction" in told["why"]
    assert "We wrote down nothing that we kept the same" in told["changed"]
    assert told["looked"].startswith("We say no, but the plan was never locked")
    assert told["helped"].startswith("The cells were made by 6 teams.")
    assert answers(CASES["no margin"])["found"].startswith("We set no smallest difference")
    made = make("difference")
    two = made.study.responses[0].model_copy(update={"primary": False})
    other = two.model_copy(update={"name": "voltage"})
    study = made.study.model_copy(update={"responses": (two, other)})
    assert "we named no main thing to measure" in answers(replace(made, study=study))["looked"]


def test_what_the_plan_can_show_is_told_with_its_assumption() -> None:
    known = tuple(
        Detectable(
            response="power", term=term, spread="given", num_df=1, den_df=9.0, at_80=size,
            at_90=None,
        )
        for term, size in (("dye", 0.0812), ("heat", 0.1377), ("dye:heat", 0.9), ("coats", None))
    )  # fmt: skip
    told = answers(with_plan(make("difference"), detectable=known))
    assert told["many"].endswith(
        "If cells made alike differ as we guessed, then about 8 of 10 such studies show a true "
        "difference of 0.081 mW in dye and 0.14 mW in heat."
    )


def test_one_firing_a_version_is_owned_up_to() -> None:
    made = make("difference")
    rows = tuple(
        row.model_copy(
            update={
                "groups": row.groups | {"firing": "F1" if row.factors["heat"] == "oven" else "F2"}
            }
        )
        for row in made.plan.rows
    )
    told = answers(with_plan(made, rows=rows))
    assert "But with one firing for each version of heat, the luck of that firing" in told["many"]


def test_what_was_decided_and_left_open_is_counted() -> None:
    made = make("difference")
    measured = replace(
        made.measured, corrections=("a", "b"), departures=("c",), open_questions=(a_question(),)
    )
    told = answers(replace(made, measured=measured))
    assert told["wrong"].endswith(
        "list what we did: 2 decisions to correct or set aside something, 1 departure from the "
        "plan and 1 question that is still open."
    )


def test_findings_of_another_plan_are_refused() -> None:
    made = make("difference")
    other = Findings(program_version="9.9", plan_digest="x", record_digest="y", responses=())
    with pytest.raises(RequestError):
        page(replace(made, findings=other))


# ---- the certificate -----------------------------------------------------------------------------


@pytest.mark.parametrize("scale", ["difference", "ratio"])
def test_a_fair_test_that_settles_nothing_is_worth_something(scale: Any) -> None:
    made = make(scale, verdicts=OPEN, failed=0)
    told = certified(made)
    sizes = {}
    for factor in ("dye", "heat", "coats"):
        ends = [c.interval_adjusted for c in made.found.comparisons if c.term == factor]
        sizes[factor] = max(
            max(high, 1 / low if scale == "ratio" else -low)
            for low, high in ends
            if low is not None and high is not None
        )
    unit = "times" if scale == "ratio" else "mW"
    labels = {"dye": "dye", "heat": "heat", "coats": "coating passes"}
    assert told.startswith("You ran a fair test. It rules out differences larger than ")
    for factor, size in sizes.items():
        match = re.search(
            rf"larger than ([\d.]+) {unit} between versions of {labels[factor]}", told
        )
        assert match is not None
        decimals = len(match[1].partition(".")[2])
        assert match[1] == f"{size:.{decimals}f}"
        assert decimals >= 2
    assert "about 19 of 20 studies" in told


def test_the_certificate_stands_only_where_it_is_true() -> None:
    made = make("difference", verdicts=OPEN, failed=0)
    assert certified(made)
    stop = AuditFinding(code="tied", severity="stop")
    warn = AuditFinding(code="few_layouts", severity="warn")
    assert certified(with_plan(made, audit=(warn,)))
    assert certified(with_plan(made, audit=(warn, stop))) == ""
    asked = replace(made, measured=replace(made.measured, open_questions=(a_question(),)))
    assert certified(asked) == ""
    assert certified(make("difference", failed=0)) == ""  # dye mattered
    assert certified(make("difference", worthwhile=0, failed=0)) == ""
    without = tuple(
        c.model_copy(update={"interval_adjusted": (None, None)}) for c in made.found.comparisons
    )
    assert certified(made.with_found(made.found.model_copy(update={"comparisons": without}))) == ""


def test_the_certificate_says_what_it_leaves_out() -> None:
    made = make("difference", verdicts=OPEN)
    assert "Of the cells that worked, it rules out" in certified(made)
    some = tuple(
        c.model_copy(update={"interval_adjusted": (None, 0.2)}) if c.term == "heat" else c
        for c in made.found.comparisons
    )
    told = certified(made.with_found(made.found.model_copy(update={"comparisons": some})))
    assert "versions of heat" not in told
    assert "Of heat it rules out nothing." in told


def test_a_version_that_gave_nothing_is_named() -> None:
    told = certified(without_beetroot(OPEN))
    assert "between versions of dye" not in told
    assert "Of dye it rules out nothing." in told
    found = answers(without_beetroot(OPEN))["found"]
    assert found.endswith("; of beetroot we only know that no cell with it gave a value.")
    assert answers(without_beetroot(SETTLED))["found"].endswith(
        " Of beetroot we only know that no cell with it gave a value."
    )


# ---- on paper ------------------------------------------------------------------------------------


def test_the_paper_is_tagged_and_leaves_room() -> None:
    made = make("difference", verdicts=OPEN, failed=0)
    reader = PdfReader(io.BytesIO(document_pdf(page(made))))
    root = cast("DictionaryObject", reader.trailer["/Root"])
    assert cast("DictionaryObject", root["/MarkInfo"])["/Marked"]
    metadata = cast("StreamObject", root["/Metadata"].get_object()).get_data().decode()
    assert re.search(r"pdfuaid:part(>|=\")1", metadata)  # ISO 14289-1, clause 5
    assert "/StructTreeRoot" in root
    text = re.sub(r"\s+", " ", " ".join(sheet.extract_text() for sheet in reader.pages))
    assert text.count("In our own words:") == 12
    assert "You ran a fair test. It rules out differences larger than" in text.replace(NBSP, " ")
    assert len(reader.pages) <= 4
