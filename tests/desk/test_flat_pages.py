"""Import and export in the browser."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from shopwarranty.desk.flat import pending
from shopwarranty.jobs.models import Job
from shopwarranty.shops.models import Change
from shopwarranty.shops.scope import shop_scope
from tests.conftest import World

from .flat_files import a_look, a_row, exported, files, table, take_in


def upload(name: str, rows: Any) -> SimpleUploadedFile:
    content = rows if isinstance(rows, str) else table(rows)
    return SimpleUploadedFile(name, content.encode(), content_type="text/csv")


def kept(world: World) -> list[str]:
    try:
        return default_storage.listdir(f"imports/{world.ours.shop.pk}")[1]
    except FileNotFoundError:
        return []


def send(world: World, client: Any, jobs: Any, findings: Any = None) -> Any:
    sent = {"jobs": upload("old jobs.csv", jobs)}
    if findings is not None:
        sent["findings"] = upload("looks.csv", findings)
    return client.post(reverse("import-jobs", args=[world.ours.shop.slug]), sent)


def take(world: World, client: Any, **more: str) -> Any:
    return client.post(reverse("import-jobs-now", args=[world.ours.shop.slug]), more, follow=True)


def test_files_are_looked_at_first_and_taken_in_when_the_owner_says_so(world: World) -> None:
    client = world.ours.client(world.ours.owner)
    page = send(world, client, [a_row(installer="Ben Sample")], [a_look()])
    assert "To be taken in: 1 job, 1 panel, 1 place, 1 visit." in page.content.decode()
    assert "Ben Sample" in page.content.decode()
    assert len(kept(world)) == 2
    with shop_scope(world.ours.shop):
        assert not Job.objects.exists()
    page = take(world, client)
    assert "Taken in: 1 job, 1 panel, 1 place, 1 visit." in page.content.decode()
    with shop_scope(world.ours.shop):
        change = Change.objects.get(act="job imported")
        assert (change.member, change.after["file"]) == (world.ours.owner, "old jobs.csv")
        assert not Job.objects.get().checks.exists()
    assert kept(world) == []


def test_checks_are_planned_when_the_owner_ticks_it(world: World) -> None:
    client = world.ours.client(world.ours.owner)
    day = (timezone.now() - timedelta(days=3)).date()
    send(world, client, [a_row(handed_over_on=day, panel_finished_at=day)])
    take(world, client, with_checks="on")
    with shop_scope(world.ours.shop):
        assert Job.objects.get().checks.filter(state="due").exists()


def test_faults_are_listed_with_what_to_do_and_the_files_are_not_kept(world: World) -> None:
    client = world.ours.client(world.ours.owner)
    page = send(world, client, [a_row(handed_over_on="<b>soon</b>")]).content.decode()
    assert "One thing in the files has to be put right first." in page
    assert "old jobs.csv, line 2, column handed_over_on" in page
    assert "&lt;b&gt;soon&lt;/b&gt;" in page
    assert "Write it as 2026-11-25." in page
    assert kept(world) == []


def test_files_that_are_no_longer_there_have_to_be_sent_again(world: World) -> None:
    client = world.ours.client(world.ours.owner)
    page = take(world, client)
    assert "The files are no longer here. Choose them again." in page.content.decode()


def test_sending_other_files_lets_the_first_ones_go(world: World) -> None:
    client = world.ours.client(world.ours.owner)
    send(world, client, [a_row()])
    send(world, client, [a_row(job_ref="P-2")])
    assert len(kept(world)) == 1
    take(world, client)
    with shop_scope(world.ours.shop):
        assert Job.objects.get().ref == "P-2"


def test_files_nobody_took_in_are_gone_after_a_day(world: World) -> None:
    client = world.ours.client(world.ours.owner)
    send(world, client, [a_row()])
    now = timezone.now()
    assert pending.sweep(now + timedelta(hours=23)) == 0
    assert pending.sweep(now + timedelta(hours=25)) == 1
    assert kept(world) == []


def test_what_is_no_file_and_what_is_too_large_is_refused_in_words(world: World, settings: Any) -> None:
    client = world.ours.client(world.ours.owner)
    page = client.post(reverse("import-jobs", args=[world.ours.shop.slug]), {})
    assert page.status_code == 200
    assert "This field is required." in page.content.decode()
    settings.MAX_UPLOAD_BYTES = 10
    page = send(world, client, [a_row()])
    assert "Larger files come in with the command import_jobs." in page.content.decode()


@pytest.mark.parametrize("content", ["", "\0\0", "job_ref\n" + "x" * 2_000_000, '"' * 999, "a;b\n1;2"])
def test_no_file_whatsoever_breaks_the_page(world: World, content: str) -> None:
    client = world.ours.client(world.ours.owner)
    assert send(world, client, content or " ").status_code == 200


def test_an_export_is_the_file_the_command_writes_and_stands_in_the_history(
    world: World, tmp_path: Path
) -> None:
    take_in(files(tmp_path, [a_row()], [a_look()]), world.ours.shop)
    client = world.ours.client(world.ours.owner)
    for which, text in zip(("jobs", "findings"), exported(world.ours.shop), strict=True):
        answer: Any = client.post(reverse("export-jobs", args=[world.ours.shop.slug]), {"file": which})
        assert b"".join(answer.streaming_content).decode() == text
        assert answer["Content-Disposition"].startswith(f'attachment; filename="kiln-{which}-')
        assert answer["Content-Type"] == "text/csv; charset=utf-8"
    with shop_scope(world.ours.shop):
        acts = Change.objects.filter(act__endswith="exported").values_list("act", "member__name")
        assert set(acts) == {
            ("jobs exported", "Owner of kiln"),
            ("findings exported", "Owner of kiln"),
        }


@pytest.mark.parametrize("name", ["import-jobs", "import-jobs-now", "import-format", "export-jobs"])
@pytest.mark.parametrize("role", ["installer", "desk"])
def test_only_an_owner_imports_and_exports(world: World, name: str, role: str) -> None:
    client = world.ours.client(getattr(world.ours, role))
    address = reverse(name, args=[world.ours.shop.slug])
    assert {client.get(address).status_code, client.post(address).status_code} == {403}


def test_the_format_page_names_every_column_and_the_shops_words(world: World) -> None:
    client = world.ours.client(world.ours.owner)
    page = client.get(reverse("import-format", args=[world.ours.shop.slug])).content.decode()
    for words in ("post_heat_temperature_c / post_heat_temperature_f", "left-front-door", "edge-lift"):
        assert words in page


def test_the_pages_take_few_queries_however_many_jobs_there_are(
    world: World, tmp_path: Path, django_assert_max_num_queries: Any
) -> None:
    client = world.ours.client(world.ours.owner)
    for jobs in (1, 30):
        rows = [a_row(job_ref=f"P-{jobs}-{n}") for n in range(jobs)]
        take_in(files(tmp_path, rows), world.ours.shop)
        with django_assert_max_num_queries(60):
            send(world, client, [a_row(job_ref=f"Q-{n}") for n in range(jobs)])
        with django_assert_max_num_queries(45):
            client.post(reverse("export-jobs", args=[world.ours.shop.slug]), {"file": "jobs"})
