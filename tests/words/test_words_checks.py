"""What an answer hangs on, in plain words."""

from __future__ import annotations

from typing import Any

from trials.words.checks import (
    AGE_UNKNOWN,
    NO_REASON,
    STEADY,
    Names,
    sensitivity_sentences,
)
from trials.words.forbidden import find_causal, find_forbidden

LABELS = {"session/firing": "firing", "item": "cell"}
NAMES = Names(
    {"heat": "heat", "dye": "dye"}.__getitem__,
    lambda kind: LABELS.get(kind, kind),
    lambda _, member: member,
)


def found(*moves: tuple[str, str, str, str], **more: Any) -> dict[str, Any]:
    ranges = [{"kind": kind, "left_out": n} for kind, n in (("session/firing", 8), ("item", 44))]
    told = [
        {"left_out": {"kind": kind, "member": member}, "factor": factor, "verdict": verdict}
        for kind, member, factor, verdict in moves
    ]
    return {"influence": {"factors": {"heat": {"ranges": ranges}}, "moves": told}, **more}


def test_each_other_answer_is_one_sentence() -> None:
    moves = [("session/firing", "F3", "heat", "not settled")]
    moves += [("item", name, "heat", "not settled") for name in "ABC"]
    moves += [("session/firing", "F4", "heat", "mattered")]
    moves += [("item", str(n), "dye", "not settled") for n in range(7)]
    moves += [("session/firing", str(n), "dye", "not settled") for n in range(8)]
    assert sensitivity_sentences(found(*moves), NAMES) == (
        "Without firing F3 or cell A, cell B or cell C the answer about heat would be "
        "'not settled'.",
        "Without firing F4 the answer about heat would be 'mattered'.",
        "Without any one of 7 of the 44 cells or any one of the 8 firings the answer about dye "
        "would be 'not settled'.",
        NO_REASON,
    )


def test_a_drift_taken_off_is_told_and_nothing_is_told_of_nothing() -> None:
    move = {"factor": "dye", "verdict": "not settled"}
    drift = {"column:light": {"moves": [move]}, "clock": {"moves": []}}
    assert sensitivity_sentences(found(drift=drift), NAMES) == (
        "If what goes with the light is taken off first, the answer about dye would be "
        "'not settled'.",
    )
    assert sensitivity_sentences(found(drift={}), NAMES) == (
        "Leaving out any single cell or firing would change none of these answers.",
    )
    assert sensitivity_sentences({"influence": None}, NAMES) == ()


def test_the_words_are_fit_for_students() -> None:
    moves = [("item", "A", "heat", "not settled")]
    for text in (*sensitivity_sentences(found(*moves), NAMES), STEADY, AGE_UNKNOWN):
        assert find_forbidden(text) == ()
        assert find_causal(text) == ()
