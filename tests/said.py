"""What was said on MQTT, held against the schema that is shipped."""

import json
from importlib.resources import files
from typing import Any, Final

import jsonschema_rs

SCHEMA: Final = json.loads(
    (files("chamberwatch") / "data" / "mqtt-out.schema.json").read_text(encoding="utf-8")
)
_KINDS: Final = {
    "status": ("at_work", "gone"),
    "chamber": ("chamber",),
    "reminder": ("reminder",),
    "caught-up": ("caught_up",),
}


def _valid_as(kind: str) -> jsonschema_rs.Validator:
    schema = {"$schema": SCHEMA["$schema"], "$ref": f"#/$defs/{kind}", "$defs": SCHEMA["$defs"]}
    return jsonschema_rs.validator_for(schema, validate_formats=True)


_VALIDATORS: Final = {kind: [_valid_as(k) for k in kinds] for kind, kinds in _KINDS.items()}
_WHOLE: Final = jsonschema_rs.validator_for(SCHEMA, validate_formats=True)


def read(topic: str, body: str | bytes) -> dict[str, Any]:
    """Return what a message says, after holding it against the schema of its topic.

    Args:
        topic: without the prefix.
        body: as it was published.
    """
    content: dict[str, Any] = json.loads(body)
    _WHOLE.validate(content)
    kinds = _VALIDATORS[topic.split("/")[0]]
    assert any(kind.is_valid(content) for kind in kinds), (topic, content)
    return content
