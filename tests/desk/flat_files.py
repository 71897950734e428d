"""Flat files for tests: rows as dicts, written and read back the way a person's spreadsheet would be."""

import csv
import io
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from shopwarranty.desk.flat.checking import Files, Outlook
from shopwarranty.desk.flat.exporting import export_findings, export_jobs
from shopwarranty.desk.flat.importing import check_files, import_files
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import shop_scope
from tests.conftest import NOW

Row = Mapping[str, object]

A_ROW: dict[str, object] = {
    "job_ref": "P-1",
    "body_style": "suv",
    "handed_over_on": "2025-03-14",
    "panel": "bonnet",
    "panel_finished_at": "2025-03-13",
    "place": "leading",
    "film": "Clear 8",
    "film_maker": "Hollow Lake Films",
    "film_family": "clear-protective",
}
A_LOOK: dict[str, object] = {
    "job_ref": "P-1",
    "visit_on": "2025-03-28",
    "origin": "planned",
    "panel": "bonnet",
    "place": "leading",
    "result": "clean",
}


def a_row(**more: object) -> dict[str, object]:
    return {**A_ROW, **more}


def a_look(**more: object) -> dict[str, object]:
    return {**A_LOOK, **more}


def table(rows: Iterable[Row], delimiter: str = ",", line_end: str = "\n") -> str:
    """A file with every column that any of the rows names."""
    kept = list(rows)
    headers = list(dict.fromkeys(name for row in kept for name in row))
    text = io.StringIO()
    writer = csv.DictWriter(text, headers, restval="", delimiter=delimiter, lineterminator=line_end)
    writer.writeheader()
    writer.writerows(kept)
    return text.getvalue()


def files(folder: Path, rows: Iterable[Row] | str, looks: Iterable[Row] | str | None = None) -> Files:
    """Writes them to the folder, as they are or as a table."""
    folder.mkdir(parents=True, exist_ok=True)
    jobs, findings = folder / "jobs.csv", folder / "findings.csv"
    jobs.write_bytes((rows if isinstance(rows, str) else table(rows)).encode())
    if looks is None:
        return Files(jobs)
    findings.write_bytes((looks if isinstance(looks, str) else table(looks)).encode())
    return Files(jobs, findings)


def take_in(found: Files, shop: Shop, **more: Any) -> Outlook:
    """With the scope of the shop entered."""
    with shop_scope(shop):
        return import_files(files=found, shop=shop, actor=Actor("a test"), now=NOW, **more)


def faults_of(found: Files, shop: Shop) -> list[str]:
    with shop_scope(shop):
        return check_files(files=found, shop=shop, now=NOW).faults.lines()


def exported(shop: Shop) -> tuple[str, str]:
    """Both files as text."""
    jobs, findings = io.StringIO(newline=""), io.StringIO(newline="")
    with shop_scope(shop):
        export_jobs(shop, jobs)
        export_findings(findings)
    return jobs.getvalue(), findings.getvalue()


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))
