"""What an answer hangs on, in plain words."""

from __future__ import annotations

from typing import Any

from trials.words.checks import (
    AGE_UNKNOWN,
    NO_REASON,
    STEADY,
    Names,
    hanging_sentence,
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


def test_how_many_of_each_kind_an_answer_hangs_on_is_told_in_short() -> None:
    """6 of 8 firings and 5 of 6 teams, as many as the moves name."""
    kinds = [{"kind": "team", "left_out": 6}, {"kind": "session/firing", "left_out": 8}]
    moves = [
        {"left_out": {"kind": kind, "member": str(n)}, "factor": "dye", "verdict": "not settled"}
        for kind, many in (("team", 5), ("session/firing", 6))
        for n in range(many)
    ]
    influence = {"factors": {"dye": {"ranges": kinds}}, "moves": moves}
    assert hanging_sentence({"influence": influence}, NAMES) == (
        "Leaving out a single firing or team can change the answer about dye: it stands close to "
        "the line. That is so for 6 of the 8 firings and 5 of the 6 teams."
    )


def test_a_drift_taken_off_is_told_and_nothing_is_told_of_nothing() -> None:
    move = {"factor": "dye", "verdict": "not settled"}
    drift = {"column:light": {"moves": [move]}, "clock": {"moves": []}}
    assert sensitivity_sentences(found(drift=drift), NAMES) == (
        "If what goes with the light is taken off first, the answer about dye would be "
        "'not settled'.",
    )
    assert sensitivity_sentences(found(drift={}), NAMES) == (
        "Leaving out any single cell or firing would change no variable's verdict. Which version "
        "is best was not tried that way.",
    )
    assert sensitivity_sentences({"influence": None}, NAMES) == ()


def test_the_words_are_fit_for_students() -> None:
    moves = [("item", "A", "heat", "not settled")]
    for text in (*sensitivity_sentences(found(*moves), NAMES), STEADY, AGE_UNKNOWN):
        assert find_forbidden(text) == ()
        assert find_causal(text) == ()
