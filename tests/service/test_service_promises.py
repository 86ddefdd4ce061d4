"""What was promised before anything was measured decides, whatever study.toml says afterwards."""

from __future__ import annotations

from typing import Any

import pytest

from trials.analysis.findings import Findings, OtherVerdict, ResponseFindings
from trials.service.promises import kept_promises, with_changes_told
from trials.study import Options, Response, Study, StudyFactor
from trials.study.values import FailedRule
from trials.words.language import speaking

POWER = Response(
    name="power",
    unit="mW",
    worthwhile=1.5,
    primary=True,
    failed=FailedRule(below=0.1, text="It gives next to nothing."),
)
FILL = Response(name="fill", unit="1", compare="ratio", worthwhile=1.2)


def study(*responses: Response, **more: Any) -> Study:
    factors = (StudyFactor(name="dye", levels=("a", "b")),)
    return Study(title="t", question="q", factors=factors, responses=responses, **more)


def power(**changes: Any) -> Response:
    return POWER.model_copy(update=changes)


@pytest.mark.parametrize(
    ("now", "told"),
    [
        (power(worthwhile=3.0), "says worthwhile = 3; the plan said 1.5 before"),
        (power(worthwhile=None), "gives no worthwhile; the plan said 1.5 before"),
        (power(compare="ratio"), "says compare = ratio; the plan said difference before"),
        (power(better="low"), "says better = low; the plan said high before"),
        (power(failed=None), "gives no failed below; the plan said 0.1 before"),
        (
            power(failed=FailedRule(below=0.2, text="It gives little.")),
            "says failed below = 0.2; the plan said 0.1 before",
        ),
    ],
)
def test_a_changed_promise_is_kept_and_told(now: Response, told: str) -> None:
    promises = kept_promises(study(POWER), study(now))
    assert promises.study.responses == (POWER,)
    assert promises.otherwise.responses == (now,)
    (sentence,) = promises.told
    assert sentence.startswith(f"study.toml now {told} anything was measured, and the answer keeps")


def test_what_was_never_promised_is_not_promised_afterwards() -> None:
    promises = kept_promises(study(power(worthwhile=None)), study(POWER))
    assert promises.study.responses[0].worthwhile is None
    assert promises.told == (
        "study.toml now says worthwhile = 1.5; the plan gave none before anything was measured, "
        "and the answer does without.",
    )


def test_with_several_responses_the_sentence_names_the_one() -> None:
    promises = kept_promises(
        study(POWER, FILL), study(POWER, FILL.model_copy(update={"worthwhile": 1.1}))
    )
    assert [change.short() for change in promises.changes] == ["worthwhile of fill = 1.1"]


def test_how_it_is_analysed_was_promised_too() -> None:
    promises = kept_promises(study(POWER), study(POWER, analysis=Options(confidence=0.8, sums="I")))
    assert promises.study.analysis == Options()
    assert [change.short() for change in promises.changes] == ["sums = I", "confidence = 0.8"]
    assert all(change.touches_verdicts for change in promises.changes)


def test_what_was_changed_is_told_in_the_language_of_the_report() -> None:
    other = OtherVerdict(factor="dye", changes=("no worthwhile",), verdict="not settled")
    found: dict[str, Any] = {"name": "power", "other_verdicts": (other,)}
    whole: dict[str, Any] = {"responses": (ResponseFindings.model_construct(**found),)}
    findings = Findings.model_construct(**whole)
    promises = kept_promises(study(POWER), study(power(worthwhile=None)))
    with speaking("es"):
        told = with_changes_told(findings, promises)
        assert told.responses[0].other_verdicts[0].changes == ("sin worthwhile",)
    assert with_changes_told(findings, promises) == findings


def test_facts_and_words_may_be_mended() -> None:
    words = FailedRule(below=0.1, text="It gives less than 0.1 mW.")
    now = power(settings={"step": 0.01}, readings=5, high=9.0, failed=words)
    promises = kept_promises(study(POWER), study(now).model_copy(update={"title": "Cells"}))
    assert promises.study.title == "Cells"
    kept = promises.study.responses[0]
    assert (kept.settings, kept.readings, kept.high) == ({"step": 0.01}, 5, 9.0)
    assert kept.failed == words
    assert promises.told == ()


def test_a_label_that_heads_a_filled_column_stays() -> None:
    """Otherwise mending a word would leave all readings without their column."""
    assert kept_promises(study(POWER), study(power(label="peak"))).study.responses[0].label == ""
    named = power(label="peak", settings={"column": "power"})
    kept = kept_promises(study(power(settings={"column": "power"})), study(named)).study
    assert kept.responses[0].label == "peak"


def test_a_promise_keeps_its_size_in_another_unit() -> None:
    """1.5 mW are 0.0015 W, and 100 cm are 1 m (SI prefixes, BIPM, The International System)."""
    promises = kept_promises(study(POWER), study(power(unit="W")))
    kept = promises.study.responses[0]
    assert (kept.unit, kept.worthwhile) == ("W", 0.0015)
    assert kept.failed is not None
    assert kept.failed.below == 0.0001
    assert promises.told[0].replace("\N{NO-BREAK SPACE}", " ") == (
        "study.toml now says worthwhile = 1.5 W; the plan said 0.0015 W before anything was "
        "measured, and the answer keeps 0.0015 W."
    )
    mended = power(unit="W", worthwhile=0.0015, failed=FailedRule(below=0.0001))
    assert kept_promises(study(POWER), study(mended)).told == ()


def test_a_response_left_out_afterwards_stays() -> None:
    promises = kept_promises(study(POWER, FILL), study(power(primary=False), FILL))
    assert promises.study.responses[0].primary
    promises = kept_promises(study(POWER, FILL), study(FILL.model_copy(update={"primary": True})))
    assert promises.study.responses == (POWER, FILL)
    assert "no longer has the response power" in promises.told[0]


def test_a_response_added_afterwards_gets_no_verdict() -> None:
    promises = kept_promises(study(POWER), study(POWER, FILL))
    assert promises.study.responses == (POWER, FILL.model_copy(update={"worthwhile": None}))
    assert "so it gets no verdict" in promises.told[0]
    assert [change.short() for change in promises.changes] == ["worthwhile of fill = 1.2"]
