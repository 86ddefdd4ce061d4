"""JSON Schemas of the files that other programs read, shipped with the package."""

from __future__ import annotations

import json
from pathlib import Path

from trials.analysis.findings import Findings
from trials.design.values import Plan
from trials.files import write_text
from trials.study import Study

FOLDER = Path(__file__).resolve().parent / "schemas"


def schema_texts() -> dict[str, str]:
    """Return the schemas as text, by file name.

    Examples
    --------
    >>> sorted(schema_texts())
    ['findings.schema.json', 'plan.schema.json', 'study.schema.json']
    """
    schemas = {
        "findings": Findings.model_json_schema(),
        "plan": Plan.model_json_schema(),
        "study": Study.model_json_schema(),
    }
    schemas["plan"]["properties"]["digest"] = {"title": "Digest", "type": "string"}
    return {
        f"{name}.schema.json": json.dumps(schema, indent=1, sort_keys=True) + "\n"
        for name, schema in schemas.items()
    }


def write_schemas() -> None:
    """Write the shipped schemas anew, after a value has changed."""
    for name, text in schema_texts().items():
        write_text(FOLDER / name, text)
