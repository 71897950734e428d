"""Worked examples from outside the project; each file names its source."""

import json
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parents[2] / "fixtures" / "reference"


def case(name: str) -> Any:
    return json.loads((FOLDER / f"{name}.json").read_text())
