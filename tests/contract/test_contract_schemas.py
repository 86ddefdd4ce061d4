"""The shipped JSON Schemas are those of the values, and say what a reader relies on."""

from __future__ import annotations

import json
from typing import Any

import pytest

from trials.service.schemas import FOLDER, schema_texts

TEXTS = schema_texts()


@pytest.mark.parametrize("name", TEXTS)
def test_a_shipped_schema_is_fresh(name: str) -> None:
    assert (FOLDER / name).read_text(encoding="utf-8") == TEXTS[name]


def test_the_schema_of_the_findings_names_every_agreed_key() -> None:
    schema: dict[str, Any] = json.loads(TEXTS["findings.schema.json"])
    assert set(schema["required"]) >= {"program_version", "record_digest", "responses"}
    response = schema["$defs"]["ResponseFindings"]["properties"]
    assert set(response) >= {"effects", "means", "comparisons", "verdicts", "variance_components"}
    verdicts = schema["$defs"]["Verdict"]["properties"]["verdict"]["enum"]
    assert verdicts == ["mattered", "made no practical difference", "not settled"]
