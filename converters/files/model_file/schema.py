"""The JSON Schema of the model file, made from the table of its fields.

``python -m droptrail.converters.files.model_file.schema`` writes it anew; a test compares.
"""

import json
from pathlib import Path
from typing import Any

from .fields import EITHER, KINDS, SHARED_RULES, Field, Rule

# beside the other data, so that it is installed with the package
FILE = Path(__file__).parents[1] / "data" / "model.schema.json"
_WORDS = (
    "A frame of straight two-node beams in space with its load cases, in any one consistent set of units (droptrail "
    "writes N, mm, MPa, s, tonne). A schema sees one value at a time: that names refer to something, that an "
    "orientation is not parallel to its element, that a material is possible, is checked on reading. Keys not listed "
    "here are kept out of the calculation and reported."
)


def schema() -> dict[str, Any]:
    """The whole schema, draft 2020-12."""
    kinds = {kind: _object(kind) for kind in KINDS if kind != "model"}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "urn:droptrail:analysis-model:1",
        "title": "droptrail analysis model",
        "description": _WORDS,
        **_object("model"),
        "$defs": {**SHARED_RULES, **kinds},
    }


def _object(kind: str) -> Rule:
    rule: dict[str, Any] = {"type": "object"}
    # only what is always needed; one of two is said by anyOf
    needed = [field.key for field in KINDS[kind] if field.needed]
    if needed:
        rule["required"] = needed
    if kind in EITHER:
        # either key will do, both together as well
        rule["anyOf"] = [{"required": [key]} for key in EITHER[kind]]
    rule["properties"] = {field.key: _value(field) for field in KINDS[kind]}
    return rule


def _value(field: Field) -> Rule:
    if field.form is not None:
        entry = field.form.rule
    else:
        entry = {"$ref": f"#/$defs/{field.key}"}
    # a copy: the rule is shared by other keys
    rule: dict[str, Any] = {**entry}
    if field.holds == "list":
        rule = {"type": "array", "items": entry}
    elif field.holds in ("named", "by_node"):
        rule = {"type": "object", "additionalProperties": entry}
    # last, so that a key can tighten what its form allows
    rule |= field.more
    if field.words:
        rule["description"] = field.words
    return rule


if __name__ == "__main__":
    FILE.write_text(json.dumps(schema(), indent=1) + "\n", encoding="utf-8")
