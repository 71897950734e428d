"""The page for a flat file: the figures of the command, in a bounded process, and nothing of it kept."""

import csv
import io
import json
import random
import re
import tempfile
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.utils import translation

from shopwarranty.analysis.flat_file import Wrong
from shopwarranty.review import flat_child, flat_review, said
from shopwarranty.review.flat_review import CannotReview, FlatOptions, Limits, review_flat
from shopwarranty.review.flat_wrongs import WORDS
from shopwarranty.shops.models import Shop
from tests.conftest import ShopPeople

from . import files, reading


def lives(rows: int = 900, seed: int = 5) -> str:
    """Sixty vehicles; places without post-heat fail four times as often."""
    rng = random.Random(seed)
    lines = ["cluster,clean_day,failed_day,post_heated,panel,installer"]
    for n in range(rows):
        heated = rng.random() < 0.7
        bad = rng.random() < (0.04 if heated else 0.16)
        who, panel = rng.choice(["Ada", "Bo"]), rng.choice(["door", "hood", "roof"])
        days = "14,90" if bad else "90,"
        lines.append(f"v{n % 60},{days},{'yes' if heated else 'no'},{panel},{who}")
    return "\n".join(lines) + "\n"


@pytest.fixture(autouse=True)
def lock_of_its_own(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> None:
    """Tests run side by side; the program lets one file in at a time."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path_factory.mktemp("lock")))


@pytest.fixture
def here(monkeypatch: pytest.MonkeyPatch) -> None:
    """The child's work without its process: what is looked at is the page."""

    def answer(raw: bytes, options: FlatOptions) -> dict[str, Any]:
        asked = {"factors": options.factors, "adjust": options.adjust, "installers": options.installers}
        found: dict[str, Any] = json.loads(json.dumps(flat_child.answer(asked, raw)))
        return found

    monkeypatch.setattr(flat_review, "_answer_of", answer)


def sent(people: ShopPeople, content: str | bytes, member: Any = None, **said_here: str) -> Any:
    raw = content.encode() if isinstance(content, str) else content
    asked = {"lives": SimpleUploadedFile("lives.csv", raw), "answer_as": "page", **said_here}
    return people.client(member or people.owner).post(f"/s/{people.shop.slug}/review/file/", asked)


def test_the_process_says_what_the_command_says(tmp_path: Path) -> None:
    (tmp_path / "lives.csv").write_text(lives())
    call_command("review_file", str(tmp_path / "lives.csv"), "--json", str(tmp_path / "out.json"))
    found = review_flat(lives().encode(), FlatOptions(None, None, installers=True))
    assert found["review"] == json.loads((tmp_path / "out.json").read_text())


def test_a_file_that_needs_too_much_is_given_up_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(flat_review, "LIMITS", Limits(cpu_s=1))
    wide = lives(60_000).replace("installer", "who", 1)
    monkeypatch.setattr(flat_review, "MOST_ROWS", 100_000)
    endless = "\n".join(f"{line},{n}" for n, line in enumerate(wide.splitlines()))
    with pytest.raises(CannotReview, match=r"Not done after|more memory|could not be worked out"):
        review_flat(endless.encode(), FlatOptions(None, None, installers=False))
    monkeypatch.setattr(flat_review, "LIMITS", Limits(memory_bytes=64 * 1024**2))
    with pytest.raises(CannotReview, match=r"more memory|could not be worked out"):
        review_flat(wide.encode(), FlatOptions(None, None, installers=False))


def test_two_files_are_not_worked_out_at_once_and_too_many_rows_not_at_all(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with flat_review.one_at_a_time(), pytest.raises(CannotReview, match="Another file"):
        review_flat(lives(10).encode(), FlatOptions(None, None, installers=False))
    monkeypatch.setattr(flat_review, "MOST_ROWS", 5)
    with pytest.raises(CannotReview, match=r"about 11 lines; at most 5"):
        review_flat(lives(10).encode(), FlatOptions(None, None, installers=False))


@pytest.mark.usefixtures("here")
def test_page_json_and_csv_of_a_file_agree_to_the_digit(ours: ShopPeople) -> None:
    page = sent(ours, lives())
    found = json.loads(sent(ours, lives(), answer_as="json").content)
    figures = sent(ours, lives(), answer_as="figures").content.decode()
    rows = {(r["factor"], r["level"]): r for r in csv.DictReader(io.StringIO(figures))}
    html = files.html_rows(page.content.decode(), "groups")
    compared = 0
    for name, groups in found["groups"].items():
        for group in groups:
            assert float(rows[name, group["level"]]["rate"]) == group["rate"]
            rate = f"{said.rate(group['rate'])} {said.rate(group['low'])} to {said.rate(group['high'])}"
            ends = f"{said.times(group['shrunken_low'])} to {said.times(group['shrunken_high'])}"
            ratio = f"{said.times(group['shrunken'])} {ends}"
            counts = [said.count(group["failures"]), said.count(group["edges"])]
            worst = said.chance(group["p_worst3"]) if len(groups) > 3 else "–"
            assert [group["level"], *counts, rate, ratio, worst] in html
            compared += 1
    assert compared == 5
    effects = files.squeezed(str(files.html_rows(page.content.decode(), "effects")))
    for effect in found["effects"]:
        between = f"{said.times(effect['low'])} to {said.times(effect['high'])}"
        assert files.squeezed(f"{said.times(effect['hazard_ratio'])}({between})") in effects
    comparisons = sent(ours, lives(), answer_as="comparisons").content.decode()
    verdicts = [row["verdict"] for row in csv.DictReader(io.StringIO(comparisons))]
    assert verdicts == [effect["verdict"] for effect in found["effects"]]
    assert "goes with more failures" in verdicts


@pytest.mark.usefixtures("here")
def test_options_are_kept_when_a_file_is_wrong_and_every_fault_has_line_and_column(ours: ShopPeople) -> None:
    wrong = "cluster,clean_day,failed_day,laid\n1,soon,,wet\n2,14,10,dry\n"
    answer = sent(ours, wrong, factors="laid", adjust="nothing")
    words = reading.text(answer)
    assert answer.status_code == 400
    assert "Line 2, column clean_day: &#x27;soon&#x27; is not a whole number of days" in words
    assert "Line 1, column nothing: there is no factor column of this name" in words
    assert 'value="laid"' in words
    assert 'value="nothing"' in words
    assert "Choose the file again" in words
    latin = sent(ours, "cluster,clean_day,failed_day\nJosé,14,\n".encode("latin-1"))
    assert "Line 2: not UTF-8" in reading.text(latin)


@pytest.mark.usefixtures("here")
def test_only_what_was_asked_for_is_compared(ours: ShopPeople) -> None:
    found = json.loads(sent(ours, lives(), factors="post_heated", adjust="panel", answer_as="json").content)
    assert {effect["factor"] for effect in found["effects"]} == {"post_heated"}


@pytest.mark.usefixtures("here")
def test_installers_of_a_file_are_shown_to_owners_alone_and_only_where_the_shop_turned_them_on(
    ours: ShopPeople,
) -> None:
    def shown_to(member: Any) -> bool:
        found = json.loads(sent(ours, lives(), member, answer_as="json").content)
        compared = any(effect["factor"] == "installer" for effect in found["effects"])
        page = reading.text(sent(ours, lives(), member))
        assert compared == ("installer" in found["groups"]) == ("Ada" in page)
        return compared

    assert not any(shown_to(member) for member in (ours.owner, ours.installer, ours.desk))
    Shop.objects.filter(pk=ours.shop.pk).update(installer_figures=True)
    assert [shown_to(member) for member in (ours.owner, ours.installer, ours.desk)] == [True, False, False]


@pytest.mark.usefixtures("here")
def test_nothing_of_a_file_is_stored(
    ours: ShopPeople, settings: Any, tmp_path: Path, django_assert_max_num_queries: Any
) -> None:
    settings.FILE_UPLOAD_TEMP_DIR = str(tmp_path)
    settings.FILE_UPLOAD_MAX_MEMORY_SIZE = 1000
    client = ours.client(ours.owner)
    asked = {"lives": SimpleUploadedFile("lives.csv", lives().encode()), "answer_as": "page"}
    with django_assert_max_num_queries(12) as queries:
        answer = client.post(f"/s/{ours.shop.slug}/review/file/", asked)
    assert answer.status_code == 200
    assert not [q["sql"] for q in queries if q["sql"].startswith(("INSERT", "UPDATE"))]
    assert list(tmp_path.iterdir()) == []
    assert answer["Cache-Control"].startswith("max-age=0, no-cache, no-store")


def test_without_a_file_the_form_says_so(ours: ShopPeople) -> None:
    answer = ours.client(ours.desk).post(f"/s/{ours.shop.slug}/review/file/", {"factors": "laid"})
    assert answer.status_code == 400
    assert 'value="laid"' in reading.text(answer)


@pytest.mark.parametrize("wrong", Wrong, ids=lambda wrong: wrong.name)
def test_a_page_says_what_the_command_line_says_about_a_wrong_file(wrong: Wrong) -> None:
    """In English word for word; whatever is meant has its place in every language."""
    with translation.override("en"):
        assert str(WORDS[wrong.name]) == wrong.value
    for language in ("de", "es"):
        with translation.override(language):
            assert set(re.findall(r"{\w+}", str(WORDS[wrong.name]))) == set(re.findall(r"{\w+}", wrong.value))
