"""The decisions about promises and dates stand alone: no framework, no clock."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "shopwarranty"
PURE = [
    *(PACKAGE / "warranty" / f"{name}.py" for name in ("numbers", "cover", "disclosures", "legal_texts")),
    *(PACKAGE / "warranty" / f"{name}.py" for name in ("certificate_text", "sentence")),
    *sorted((PACKAGE / "warranty" / "legal").glob("*.py")),
    *(PACKAGE / "inspections" / f"{name}.py" for name in ("due_dates", "slots", "wall_clock", "invitation")),
    PACKAGE / "inspections" / "calendar_lines.py",
    PACKAGE / "outbox" / "quiet_hours.py",
]


@pytest.mark.parametrize("path", PURE, ids=lambda path: path.stem)
def test_a_pure_module_reads_no_clock_and_draws_no_chance(path: Path) -> None:
    source = path.read_text(encoding="utf-8")
    assert not re.search(r"\.now\(|\.today\(|utcnow|import time\b|import random|uuid4|os\.environ", source)


def test_the_pure_modules_load_without_the_web_framework() -> None:
    modules = [".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts) for path in PURE]
    code = (
        f"import sys, {', '.join(modules)}; sys.exit(any(m.split('.')[0] == 'django' for m in sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=PACKAGE.parent, check=False)
    assert done.returncode == 0
