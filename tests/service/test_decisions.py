"""A verdict that rests on one answer is told, and only then."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.ingest.bench import CODES, plan_of, plants
from trials.analysis import analyse_study
from trials.ingest import collect
from trials.record import Decision, Store, measured_state
from trials.service.decisions import with_moved_verdicts
from trials.study.values import Study

_PLAIN = plants()
STUDY: Study = _PLAIN.model_copy(
    update={
        "responses": (_PLAIN.responses[0].model_copy(update={"worthwhile": 10.0, "failed": None}),),
        "analysis": _PLAIN.analysis.model_copy(update={"resamples": 199}),
    }
)
PLAN = plan_of(STUDY)


@pytest.mark.parametrize(("wrong", "moved"), [("390", True), ("151", False)])
def test_an_answer_that_turns_a_verdict_is_told(tmp_path: Path, wrong: str, moved: bool) -> None:
    """One reading more of BD27 in another session than planned, which the class set aside."""
    lines = ["item,reading,session,height (mm)"]
    for place, code in enumerate(CODES):
        row = PLAN.row(code)
        height = (150 if row.factors["food"] == "full" else 100) + place % 3
        lines += [f"{code},{n},{row.groups['session']},{height + n}" for n in (1, 2)]
    lines.append(f"BD27,3,2,{wrong}")
    with Store.open(tmp_path / "r.db") as store:
        collect(store, "\n".join(lines).encode(), "a.csv", STUDY, PLAN)
        for question in store.questions(only_open=True):
            store.answer(question.id, Decision("set-aside", "", "another pot", "T1"), CODES)
        state = store.state()
    findings = analyse_study(STUDY, PLAN, measured_state(state, STUDY, PLAN))
    (found,) = with_moved_verdicts(findings, STUDY, PLAN, state).responses
    assert found.verdicts[0].verdict == "mattered"
    assert bool(found.moved_verdicts) == moved
    if moved:
        assert found.moved_verdicts[0].verdict == "not settled"
        assert "Without the answer to Q" in found.moved_verdicts[0].sentence
