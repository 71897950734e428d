"""A pass phrase comes from a file: on a command line, everybody on the machine could read it."""

from argparse import ArgumentParser
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError


def add_pass_phrase(parser: ArgumentParser) -> None:
    parser.add_argument(
        "--pass-phrase-file", type=Path, metavar="FILE", help="its first line encrypts the backup"
    )


def pass_phrase_of(options: Mapping[str, Any]) -> str:
    path = options["pass_phrase_file"]
    if path is None:
        return ""
    try:
        phrase = path.read_text(encoding="utf-8").split("\n")[0].strip()
    except (OSError, UnicodeDecodeError) as error:
        raise CommandError(f"{path} cannot be read: {error}.", returncode=2) from error
    if len(phrase) < 12:
        raise CommandError("A pass phrase has at least 12 characters.", returncode=2)
    return str(phrase)
