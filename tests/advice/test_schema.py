"""The published schema of the Advice is the one that the code gives."""

from __future__ import annotations

import json
from pathlib import Path

from advisor.advice.advice import SCHEMA, Advice

PUBLISHED = Path(__file__).resolve().parents[2] / "data" / "advice.schema.json"


def test_the_published_schema_is_the_one_of_the_code() -> None:
    """To write it anew: python tests/advice/test_schema.py"""
    assert json.loads(PUBLISHED.read_text(encoding="utf-8")) == Advice.model_json_schema()


def test_the_schema_names_its_version() -> None:
    assert Advice.model_json_schema()["properties"]["schema_version"]["const"] == SCHEMA


if __name__ == "__main__":
    PUBLISHED.write_text(json.dumps(Advice.model_json_schema(), indent=1) + "\n", encoding="utf-8")
