"""The schemas of documents as files of docs/."""

import json
from pathlib import Path

from obverse.workbench.schemas import KINDS, schema_of

FOLDER = Path(__file__).parents[1] / "docs" / "schemas"


def pages() -> dict[str, str]:
    """The text of each file, by name."""
    return {f"{kind}.schema.json": json.dumps(schema_of(kind), indent=1) + "\n" for kind in KINDS}
