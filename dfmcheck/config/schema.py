"""The JSON Schema of `dfmcheck.toml`, for editors that complete and check while one types.

It comes from the declaration by which the parser checks. What a schema cannot say (patterns that
match no STEP file, names that no rule knows) the parser finds.
"""

from typing import Any

from dfmcheck.config.spec import FORMAT, configuration


def config_schema() -> dict[str, Any]:
    """The schema, in the dialect of 2020-12."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"dfmcheck.toml, format {FORMAT}",
        "description": "Limits, rules, parts and permits of a repository of machined parts.",
        **configuration().schema(),
    }
