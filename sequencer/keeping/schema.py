"""The format as a JSON Schema, written from the records: ``python -m sequencer.keeping.schema``."""

from __future__ import annotations

import json

import msgspec

from sequencer.keeping.record import SCHEMA, PieceRecord


def schema_text() -> str:
    """docs/piece.schema.json, whole."""
    schema = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": SCHEMA,
        **msgspec.json.schema(PieceRecord),
    }
    return json.dumps(schema, indent=1, ensure_ascii=False, sort_keys=True) + "\n"


if __name__ == "__main__":
    print(schema_text(), end="")
