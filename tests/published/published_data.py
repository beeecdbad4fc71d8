"""Opens the published inputs that lie beside the checks."""

import json
from pathlib import Path
from typing import Any


def load(name: str) -> Any:
    """Content of one data file."""
    return json.loads((Path(__file__).parent / "data" / f"{name}.json").read_text())
