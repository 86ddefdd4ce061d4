"""A number below zero may be typed as an answer."""

from __future__ import annotations

from typing import Any

import pytest

from trials.cli import start
from trials.service import answer


@pytest.mark.parametrize("value", ["-5.2", "-5,2", "-.5", "-3 mV", "-1e-3", "5.2"])
@pytest.mark.parametrize("place", ["before", "after"])
def test_a_negative_value_is_an_argument(
    value: str, place: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[tuple[Any, ...]] = []

    def settle(*told: Any, sure: bool) -> None:
        assert not sure
        asked.append(told)
        raise KeyboardInterrupt

    monkeypatch.setattr(answer, "settle", settle)
    options = ["--why", "-5 is what the meter shows", "--by", "KW"]
    words = ["f", "Q1", "correct", value]
    typed = [*options, *words] if place == "before" else [*words, *options]
    assert start.run(["answer", *typed]) == 130
    ((_, question, said),) = asked
    assert question == "Q1"
    assert said == ("correct", value, "-5 is what the meter shows", "KW")


def test_a_misspelt_option_is_still_an_option(capsys: pytest.CaptureFixture[str]) -> None:
    assert start.run(["answer", "f", "Q1", "correct", "-5", "--wy", "x"]) == 2
    assert "--wy" in capsys.readouterr().err
