"""Where things lie in a checkout."""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Checkout:
    root: Path

    @property
    def manage(self) -> Path:
        return self.root / "manage.py"

    @property
    def venv(self) -> Path:
        return self.root / ".venv"

    @property
    def python(self) -> Path:
        return self.venv / "bin" / "python"

    @property
    def stamp(self) -> Path:
        """Written last, so that an interrupted installation counts as none."""
        return self.venv / "installed.json"

    @property
    def lock(self) -> Path:
        return self.root / "requirements.lock"

    @property
    def test_lock(self) -> Path:
        return self.root / "requirements-test.lock"


def data_folder(checkout: Checkout, environ: Mapping[str, str] = os.environ) -> Path:
    """The folder of database, files and keys: the same rule as in the settings."""
    return Path(environ.get("SHOPWARRANTY_DATA_DIR") or checkout.root / "var")


def make_private(folder: Path) -> Path:
    """Customers' data and keys lie there, so nobody else on the machine may look in."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return folder
