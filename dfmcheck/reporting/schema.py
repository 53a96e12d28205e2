"""The JSON Schema (draft 2020-12) of the JSON report, generated from its types.

The published file is kept in the package; a test holds it to the code.
"""

import json
from importlib.resources import files
from typing import Any

FILE = "report-1.schema.json"


def published_schema() -> dict[str, Any]:
    """The schema as it is shipped."""
    text = files("dfmcheck.reporting").joinpath("data", FILE).read_text(encoding="utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def make_schema(*, strict: bool = False) -> dict[str, Any]:
    """Generate the schema.

    Args:
        strict: also refuse unknown keys. The published schema allows them, since a format may
            gain keys; tests use the strict one.
    """
    import msgspec

    from dfmcheck.reporting.document import FORMAT, Report, Reports

    (one, several), components = msgspec.json.schema_components(
        (Report, Reports), ref_template="#/$defs/{name}"
    )
    for component in components.values():
        _complete(component, strict)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:dfmcheck:report:{FORMAT}",
        "title": "dfmcheck report",
        "description": "What dfmcheck writes for --report json=PATH. All lengths in millimetres, "
        "places and directions in the axes of the STEP file.",
        "anyOf": [one, several],
        "$defs": {name: components[name] for name in sorted(components)},
    }


def schema_text() -> str:
    """The published file's content."""
    return json.dumps(make_schema(), indent=1, ensure_ascii=False) + "\n"


def _complete(component: dict[str, Any], strict: bool) -> None:
    """Every key is always written, so every key is required."""
    if component.get("type") != "object":
        return
    properties: dict[str, Any] = component.get("properties", {})
    component["required"] = list(properties)
    for described in properties.values():
        described.pop("default", None)
    if strict:
        component["additionalProperties"] = False
    else:
        component.pop("additionalProperties", None)
