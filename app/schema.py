"""The JSON Schema of step lists, generated from the kinds; ``python -m app.schema`` writes it."""

import json
from pathlib import Path

from app.kinds import KINDS
from core.steps.document import json_schema

SCHEMA_FILE = Path(__file__).with_name("steplist.schema.json")


def schema_text() -> str:
    """The schema as it is shipped.

    >>> SCHEMA_FILE.read_text("ascii") == schema_text()
    True
    """
    return json.dumps(json_schema(KINDS), indent=1) + "\n"


if __name__ == "__main__":
    SCHEMA_FILE.write_text(schema_text(), "ascii")
