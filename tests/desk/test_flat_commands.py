"""import_jobs and export_jobs: 0 done, 2 refused with the reasons on stderr and nothing written."""

from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from shopwarranty.jobs.models import Job
from shopwarranty.shops.models import Change, Shop
from shopwarranty.shops.scope import every_shop, shop_scope
from tests.conftest import NOW, World

from .flat_files import a_look, a_row, files

EXAMPLES = Path(__file__).parents[2] / "fixtures" / "import"


def run(name: str, *arguments: object, **options: object) -> tuple[str, str]:
    out, err = StringIO(), StringIO()
    call_command(name, *map(str, arguments), stdout=out, stderr=err, **options)
    return out.getvalue(), err.getvalue()


@pytest.mark.postgres
def test_files_go_in_come_out_and_go_in_elsewhere_the_same(world: World, tmp_path: Path) -> None:
    other = Shop.objects.create(slug="other", name="Other", created_at=NOW)
    out, _err = run("import_jobs", EXAMPLES / "jobs.csv", EXAMPLES / "findings.csv", shop="kiln")
    assert "Taken in: 2 jobs, 3 panels, 13 places, 4 visits, 2 defects." in out
    first, second = ([tmp_path / f"{name}{n}.csv" for name in ("jobs", "findings")] for n in (1, 2))
    said, _err = run("export_jobs", *first, shop="kiln")
    assert said == "2 jobs in 13 rows, 22 rows of findings.\n"
    run("import_jobs", *first, shop=other.slug)
    run("export_jobs", *second, shop=other.slug)
    assert [path.read_bytes() for path in first] == [path.read_bytes() for path in second]


def test_the_same_again_says_that_nothing_changed(world: World, tmp_path: Path) -> None:
    found = files(tmp_path, [a_row()])
    run("import_jobs", found.jobs, shop="kiln")
    out, _err = run("import_jobs", found.jobs, shop="kiln")
    assert out == "Everything is here already, unchanged: 1 job.\n"


def test_a_dry_run_says_what_would_be_done_and_writes_nothing(world: World, tmp_path: Path) -> None:
    found = files(tmp_path, [a_row(installer="Ben Sample")], [a_look()])
    out, _err = run("import_jobs", found.jobs, found.findings, shop="kiln", dry_run=True)
    assert out.splitlines() == [
        "To be taken in: 1 job, 1 panel, 1 place, 1 visit.",
        "People added, without a sign-in: Ben Sample.",
        "Films added: Clear 8.",
    ]
    with every_shop():
        assert not Job.objects.exists()
        assert not Change.objects.exists()


@pytest.mark.parametrize("dry_run", [True, False])
def test_faults_are_refused_with_the_reasons(world: World, tmp_path: Path, dry_run: bool) -> None:
    found = files(tmp_path, [a_row(handed_over_on="soon")])
    with pytest.raises(CommandError) as refused:
        run("import_jobs", found.jobs, shop="kiln", dry_run=dry_run)
    assert refused.value.returncode == 2
    assert str(refused.value).splitlines() == [
        "jobs.csv, line 2, column handed_over_on: “soon”: is no day. Write it as 2026-11-25.",
        "Nothing was written.",
    ]


@pytest.mark.parametrize("name", ["import_jobs", "export_jobs"])
def test_a_shop_or_file_that_is_not_there_is_refused(world: World, tmp_path: Path, name: str) -> None:
    nowhere = tmp_path / "none" / "jobs.csv"
    for shop, paths in (("nobody", (EXAMPLES / "jobs.csv",) * 2), ("kiln", (nowhere, nowhere))):
        with pytest.raises(CommandError) as refused:
            run(name, *paths, shop=shop)
        assert refused.value.returncode == 2
    assert not nowhere.exists()


def test_an_export_that_fails_leaves_the_old_files_as_they_were(
    world: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    paths = [tmp_path / "jobs.csv", tmp_path / "findings.csv"]
    for path in paths:
        path.write_text("old")

    def fails(file: object) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("shopwarranty.desk.management.commands.export_jobs.export_findings", fails)
    with pytest.raises(CommandError, match="No space left on device"):
        run("export_jobs", *paths, shop="kiln")
    assert [path.read_text() for path in paths] == ["old", "old"]
    assert sorted(tmp_path.iterdir()) == sorted(paths)


def test_progress_is_said_on_stderr(world: World, tmp_path: Path) -> None:
    found = files(tmp_path, [a_row()])
    _out, err = run("import_jobs", found.jobs, shop="kiln")
    assert "checked 1 rows" in err


def test_checks_are_planned_when_asked_for(world: World, tmp_path: Path) -> None:
    found = files(tmp_path, [a_row(handed_over_on="2026-11-20", panel_finished_at="2026-11-19")])
    out, _err = run("import_jobs", found.jobs, shop="kiln", plan_checks=True)
    assert "checks planned" in out
    with shop_scope(world.ours.shop):
        assert Job.objects.get().checks.filter(state="due").exists()


def test_the_format_is_printed_for_the_readme() -> None:
    out, _err = run("import_format")
    assert "### `jobs.csv`" in out
    assert "### `findings.csv`" in out
