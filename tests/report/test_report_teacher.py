"""The teacher's page on hand-made findings: repeatability, signs, and who did what."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from trials.analysis.findings import Repeatability, TeamSpread
from trials.design.values import AuditFinding
from trials.record.values import Otherwise
from trials.render.blocks import Document, Paragraph, texts, walk
from trials.render.paper import document_pdf
from trials.render.table import Table
from trials.report import story_of, teacher_document
from trials.report.technical import record_sentences
from trials.words.fairness_areas import AREA_OF, AREAS
from trials.words.numbers import NBSP
from trials.words.question_codes import QUESTION_CODES
from trials.words.teams import NO_SIGN, SIGNS, alike_sentence

from .made import TODAY, Made, a_question, make

SPREAD = Repeatability(
    group="team",
    teams=(
        TeamSpread(member="T1", items=8, making=0.0712, making_interval=(0.0412, 0.2213),
                   making_df=3.2, reading=0.0113, reading_interval=(0.0084, 0.0171),
                   reading_df=16),
        TeamSpread(member="T2", items=7, making=None, making_interval=(None, None),
                   making_df=None, reading=0.0209, reading_interval=(0.0152, 0.0331),
                   reading_df=14),
    ),
    making=0.0688, reading=0.0161, confidence=0.95, p_making=0.41,
)  # fmt: skip


def page(made: Made) -> Document | None:
    story = story_of(
        made.study, made.plan, made.measured, made.findings, today=TODAY, version="9.9"
    )
    return teacher_document(story)


def with_spread(p: float | None = 0.41) -> Made:
    made = make("difference")
    spread = SPREAD.model_copy(update={"p_making": p})
    return made.with_found(made.found.model_copy(update={"repeatability": spread}))


def text(made: Made) -> str:
    found = page(made)
    assert found is not None
    return "\n".join(texts(found.parts[0].sections)).replace(NBSP, " ")


def table(made: Made, name: str) -> Table:
    found = page(made)
    assert found is not None
    return next(
        block
        for section in walk(found.parts[0].sections)
        for block in section.blocks
        if isinstance(block, Table) and block.name == name
    )


def test_without_teams_there_is_no_page() -> None:
    made = make("difference")
    groups = tuple(g.model_copy(update={"role": None}) for g in made.plan.groups)
    plan = made.plan.model_copy(update={"groups": groups})
    findings = made.findings.model_copy(update={"plan_digest": plan.digest()})
    assert page(replace(made, plan=plan, findings=findings)) is None


def test_spreads_are_those_of_the_findings_and_nobody_is_put_first() -> None:
    rows = table(with_spread(), "power-teams").rows
    assert rows[0] == ("T1", 8, 0.0712, 0.0412, 0.2213, 0.0113, 0.0084, 0.0171)
    assert rows[1][2:5] == (None, None, None)
    told = text(with_spread())
    assert "in about 41 of 100 repeats. So these numbers put nobody first or last." in told
    assert "do seem to differ" in text(with_spread(0.004))
    assert "too little to say whether teams differ" in text(with_spread(None))
    # the test compares values, so a poor meter counts as well
    assert "making and measuring together" in text(with_spread(0.004))
    assert "made them equally well" not in text(with_spread(0.004))
    assert "causes" not in alike_sentence(0.001, "cells", 0.05)


def test_a_range_that_says_nothing_is_not_told_and_no_team_stands_out_alone() -> None:
    """One team with 0.63 (0.21 to 71.23), one without; then teams that nothing compares."""
    wide = SPREAD.teams[0].model_copy(update={"making": 0.63, "making_interval": (0.21, 71.23)})
    spread = SPREAD.model_copy(update={"teams": (wide, SPREAD.teams[1])})
    made = make("difference")
    one = made.with_found(made.found.model_copy(update={"repeatability": spread}))
    shown = table(one, "power-teams")
    assert shown.rows[0] == ("T1", 8, "too few", None, None, 0.0113, 0.0084, 0.0171)
    assert shown.notes[0].startswith("Too few: too few cells to say")
    apart = table(with_spread(None), "power-teams")
    assert [column.name for column in apart.columns][2:] == [
        "measuring", "measuring from", "measuring to"
    ]  # fmt: skip
    assert apart.rows[0][2:] == (0.0113, 0.0084, 0.0171)
    (note,) = apart.notes
    assert note.replace(NBSP, " ") == (
        "Making, team by team: too few cells to say. Making, all teams together: 0.069 mW."
    )
    assert table(with_spread(), "power-teams").notes == ()


def test_where_no_team_can_be_told_apart_there_is_one_sentence_and_no_table() -> None:
    nothing = {"making": None, "making_interval": (None, None), "reading": None,
               "reading_interval": (None, None)}  # fmt: skip
    teams = tuple(one.model_copy(update=nothing) for one in SPREAD.teams)
    spread = SPREAD.model_copy(update={"teams": teams, "p_making": None, "making": 0.25})
    made = make("ratio")
    found = page(made.with_found(made.found.model_copy(update={"repeatability": spread})))
    assert found is not None
    section = found.parts[0].sections[0]
    (block,) = section.blocks
    assert isinstance(block, Paragraph)
    assert block.text.replace(NBSP, " ") == (
        "There is too little to say whether teams differ in how alike their cells are. Making, all "
        "teams together: 25 %."
    )


def test_who_did_what_adds_up() -> None:
    made = make("difference")
    asked = replace(a_question(), item=made.plan.rows[0].item, answer="keep")
    made = replace(made, measured=replace(made.measured, answered=(asked,)))
    rows = table(made, "who").rows
    status = Counter(value.status for value in made.measured.values)
    sums = [sum(int(str(row[i])) for row in rows) for i in range(1, 8)]
    assert sums == [48, status["measured"], status["failed"], status["lost"], 144, 1, 0]
    assert rows[0][6] == 1  # the first cell is team T1's


def test_what_others_finished_counts_for_its_maker_and_departures_stand_below() -> None:
    made = make("difference")
    teams = {row.item: row.groups["team"] for row in made.plan.rows}
    mine = [item for item, team in teams.items() if team == "T3"]
    finished = {mine[0]: "T1", mine[1]: "T1", mine[2]: "T4"}
    assert "finished by others" not in [column.name for column in table(made, "who").columns]
    measured = replace(made.measured, finished=finished, departures=("K7 was lost: fell",))
    made = replace(made, measured=measured)
    who = table(made, "who")
    at = [column.name for column in who.columns].index("finished by others")
    shown = {str(row[0]): row[at : at + 2] for row in who.rows}
    assert shown == {"T1": (0, 2), "T2": (0, 0), "T3": (3, 0), "T4": (0, 1), "T5": (0, 0),
                     "T6": (0, 0)}  # fmt: skip
    assert sum(int(str(row[1])) for row in who.rows) == 48  # planned: as before
    told = text(made)
    assert told.count("counts for the team that made it") == 1
    spread = with_spread()
    spread = replace(spread, measured=replace(spread.measured, finished=finished))
    assert "counts for the team that made it" in " ".join(table(spread, "power-teams").notes)
    story = story_of(made.study, made.plan, measured, made.findings, today=TODAY, version="9.9")
    assert "counts for the team that made it" in " ".join(record_sentences(story))
    assert "K7 was lost: fell" in told.partition("Here the work departed from the plan:")[2]


def test_only_what_the_data_show_is_called_a_sign() -> None:
    made = make("difference")
    assert NO_SIGN in text(made)
    copied = replace(a_question(), code="copied", item="K10")
    kept = replace(copied, answer="keep")
    odd = replace(a_question(), code="unusual", answer="set-aside")
    otherwise = Otherwise("K10", "factor", "dye", "beetroot", "ran out", "T1", "2030-05-03")
    values = tuple(
        replace(v, status="unmeasured", value=None) if v.status == "lost" and i else v
        for i, v in enumerate(made.measured.values)
    )
    bare = tuple(replace(v, reason="") if v.status == "unmeasured" else v for v in values)
    more = (replace(bare[0], readings=9), *bare[1:])
    seen = replace(
        made.measured, open_questions=(copied,), answered=(odd,), otherwise=(otherwise,),
        values=more,
    )  # fmt: skip
    told = text(replace(made, measured=seen))
    for part in (
        "Questions in the record about items with the numbers of another: 1.",
        "Numbers set aside because they looked odd: 1.",
        "Made otherwise than planned: 1 cell.",
        "No value and no reason in the record: 1 cell.",
        "Read more often than planned: 1 cell.",
    ):
        assert part in told
    assert NO_SIGN not in told
    right = replace(made.measured, answered=(kept,))
    assert NO_SIGN in text(replace(made, measured=right))  # the number was right


def test_findings_of_the_check_stand_under_their_area() -> None:
    made = make("difference")
    finding = AuditFinding(code="best_of_many", severity="warn", message="The best counts.")
    plan = made.plan.model_copy(update={"audit": (finding,)})
    told = text(replace(made, plan=plan))
    assert told.index("Measurement of outcome") < told.index("The best counts. Some may think")


@pytest.mark.parametrize("code", SIGNS)
def test_every_sign_has_a_known_code_and_the_area_of_its_finding(code: str) -> None:
    own = {"odd_dropped", "no_reason", "more_readings", "otherwise", "after_looking"}
    assert code in own | set(AREA_OF) | set(QUESTION_CODES)
    assert SIGNS[code].area in AREAS
    if code in AREA_OF and code not in QUESTION_CODES:
        assert SIGNS[code].area == AREA_OF[code]
    assert SIGNS[code].ask.endswith("?")


def test_the_paper_can_be_made() -> None:
    found = page(with_spread())
    assert found is not None
    assert document_pdf(found).startswith(b"%PDF-")  # PDF/UA-1, or the wheel refuses
