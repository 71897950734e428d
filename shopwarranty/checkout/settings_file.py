"""Settings that the set-up wrote down: NAME=value lines in the data folder. The environment wins."""

import os
from collections.abc import Mapping, MutableMapping
from pathlib import Path

NAME = "settings.env"


def load(folder: Path, environ: MutableMapping[str, str] = os.environ) -> None:
    path = folder / NAME
    if path.is_file():
        for name, value in parse(path.read_text()).items():
            environ.setdefault(name, value)


def parse(text: str) -> dict[str, str]:
    lines = (line.strip() for line in text.splitlines())
    pairs = (line.partition("=") for line in lines if line and not line.startswith("#"))
    return {name.strip(): value.strip() for name, _, value in pairs}


def write(folder: Path, values: Mapping[str, str], heading: str) -> Path:
    path = folder / NAME
    lines = [*(f"# {line}" for line in heading.splitlines()), *(f"{k}={v}" for k, v in values.items())]
    path.write_text("\n".join(lines) + "\n")
    path.chmod(0o600)
    return path
