"""Page, JSON, CSV and the lists behind the figures say the same; who may see what; how many queries."""

import json
import re
from pathlib import Path
from typing import Any

import pytest
from django.core.cache import cache
from django.core.management import CommandError, call_command

from shopwarranty.review import said
from shopwarranty.review.counted import jobs_coming
from shopwarranty.shops.models import Member, Shop
from tests import builders as b
from tests.conftest import NOW, ShopPeople

from . import reading
from .bulk import many_jobs


@pytest.fixture
def shop(ours: ShopPeople) -> ShopPeople:
    second = Member.objects.create(name="Second Installer", is_installer=True, joined_at=NOW)
    many_jobs(40, [ours.installer, second])
    return ours


def test_page_json_and_csv_agree_to_the_digit(shop: ShopPeople) -> None:
    answer, found = reading.page(shop), reading.as_json(shop)
    rows = {(r["table"], r["level"]): r for r in reading.as_rows(shop, "figures")}
    compared = 0
    for name in ("panel", "place_kind", "spot", "film", "lot", "post_heated"):
        for group in found["groups"][name]:
            row, line = rows[name, group["level"]], reading.line(answer, name, group["level"])
            for key in ("rate", "low", "high", "shrunken", "shrunken_high", "p_worst3"):
                assert row[key] == ("" if group[key] is None else repr(group[key]))
            assert (row["failures"], row["watched"]) == (str(group["failures"]), str(group["edges"]))
            assert line.watched == said.count(group["edges"])
            if line.ratio:
                assert line.ratio == said.times(group["shrunken"])
                compared += 1
    assert compared > 60


def test_the_comparisons_agree_and_use_only_the_five_phrases(shop: ShopPeople) -> None:
    answer, found = reading.page(shop), reading.as_json(shop)
    lines = [*answer.context["effects"], *answer.context["more_effects"]]
    assert len(lines) == len(found["effects"]) > 3
    ratios = [said.times(e["hazard_ratio"]) for e in found["effects"]]
    assert sorted(line.ratio for line in lines) == sorted(ratios)
    five = r"Goes with (more|fewer) failures|No clear difference|Cannot tell yet|Cannot be told apart from "
    assert all(re.match(five, line.verdict) for line in lines)
    rows = reading.as_rows(shop, "effects")
    assert [float(r["hazard_ratio"]) for r in rows] == [e["hazard_ratio"] for e in found["effects"]]


def test_every_figure_of_every_table_leads_to_exactly_that_many_places(shop: ShopPeople) -> None:
    answer = reading.page(shop)
    for table in answer.context["tables"]:
        for line in (*table.lines, *table.more[:5]):
            assert reading.counted(shop, line.recorded_url) == reading.number(line.recorded)
            assert reading.counted(shop, line.watched_url) == reading.number(line.watched)
            if line.failures_url:
                assert reading.counted(shop, line.failures_url) == reading.number(line.failures)


def test_every_other_link_leads_to_as_many_places_as_its_sentence_says(shop: ShopPeople) -> None:
    answer = reading.page(shop)
    for line in (*answer.context["effects"], *answer.context["more_effects"]):
        for side in (line.own, line.usual):
            assert reading.counted(shop, side.url) == reading.number(side.text.split(" of ")[1])
    checked = 0
    for figure in (*answer.context["caveats"], *answer.context["gaps"]):
        if figure.url:
            assert said.count(reading.counted(shop, figure.url)) in figure.text
            checked += 1
    assert checked >= 3
    for key, piece in answer.context["rates"].drawing.pieces.items():
        line = reading.line(answer, "panel", key)
        assert reading.counted(shop, piece.url) == reading.number(line.watched)


def test_a_page_that_explores_gives_no_verdicts(shop: ShopPeople) -> None:
    answer = reading.page(shop, body="suv")
    words = reading.text(answer)
    assert "Exploring" in words
    assert all(line.verdict == "" for line in answer.context["effects"])
    assert "Goes with" not in words.split("How sure")[0]
    assert {row["verdict"] for row in reading.as_rows(shop, "effects", body="suv")} == {""}
    assert {effect["verdict"] for effect in reading.as_json(shop, body="suv")["effects"]} == {None}
    assert answer.context["answer"].heading.startswith("Exploring: highest estimate here")
    assert answer.context["steps"] == []
    assert not any(
        said_of in words for said_of in ("fails most", "More than chance", "Look at this lot first")
    )


def test_the_places_are_paged_and_say_where_they_lead_back_to(shop: ShopPeople) -> None:
    url = f"/s/{shop.shop.slug}/review/places/?what=watched&body=suv"
    answer = shop.client(shop.desk).get(url, {"what": "watched", "body": "suv", "page": "2"})
    assert len(answer.context["lines"]) == 50
    assert "?family=clear-protective&amp;body=suv" in answer.content.decode()


def test_figures_by_installer_are_off_until_an_owner_turns_them_on(shop: ShopPeople) -> None:
    for member in (shop.owner, shop.installer, shop.desk):
        assert "By who laid it" not in reading.text(reading.page(shop, member))
        assert "installer" not in reading.as_json(shop, member)["groups"]
        assert all(row["table"] != "installer" for row in reading.as_rows(shop, "figures", member))


def test_then_owners_see_all_each_installer_his_own_and_the_desk_none(shop: ShopPeople) -> None:
    Shop.objects.filter(pk=shop.shop.pk).update(installer_figures=True)
    own = shop.installer.name
    seen = {
        member.pk: {g["level"] for g in reading.as_json(shop, member)["groups"].get("installer", [])}
        for member in (shop.owner, shop.installer, shop.desk)
    }
    assert seen == {shop.owner.pk: {own, "Second Installer"}, shop.installer.pk: {own}, shop.desk.pk: set()}
    assert "Second Installer" not in reading.text(reading.page(shop, shop.installer))
    line = reading.line(reading.page(shop, shop.owner), "installer", own)
    assert "expected of this mix: " in line.note
    assert line.watched != ""


def test_the_list_behind_anothers_figure_is_closed_too(shop: ShopPeople) -> None:
    Shop.objects.filter(pk=shop.shop.pk).update(installer_figures=True)
    url = f"/s/{shop.shop.slug}/review/places/?by=installer&level=Second+Installer"
    assert shop.client(shop.owner).get(url).status_code == 200
    assert shop.client(shop.installer).get(url).status_code == 404
    assert shop.client(shop.desk).get(url).status_code == 404


@pytest.mark.parametrize("address", ["review/", "review/places/?what=watched", "review/figures.csv"])
def test_the_number_of_queries_does_not_grow_with_the_record(
    ours: ShopPeople, address: str, django_assert_max_num_queries: Any
) -> None:
    client = ours.client(ours.owner)
    for jobs in (3, 30):
        many_jobs(jobs, [ours.installer], seed=jobs) if jobs == 3 else more_jobs(jobs, ours)
        cache.clear()
        with django_assert_max_num_queries(45):
            assert client.get(f"/s/{ours.shop.slug}/{address}").status_code == 200


def more_jobs(jobs: int, ours: ShopPeople) -> None:
    from shopwarranty.films.models import FilmProduct
    from shopwarranty.jobs.models import Job

    for film in FilmProduct.objects.all():
        film.name += " before"
        film.save()
    for job in Job.objects.all():
        job.ref += "x"
        job.save()
    many_jobs(jobs, [ours.installer], seed=jobs)


def test_vehicles_that_come_in_this_week_are_named_on_monday(shop: ShopPeople) -> None:
    from shopwarranty.jobs.models import Job

    job = Job.objects.order_by("-pk").first()
    assert job is not None
    assert jobs_coming(b.TODAY) == frozenset()
    b.a_check(job, due_on=b.TODAY)
    assert jobs_coming(b.TODAY) == {job.pk}


def test_the_command_writes_what_the_page_says(shop: ShopPeople, tmp_path: Path) -> None:
    out = tmp_path / "review.json"
    call_command("review", "--shop", shop.shop.slug, "--json", str(out))
    assert json.loads(out.read_text()) == reading.as_json(shop)
    keys = "rows clusters failures edge_days npmle cumulative groups effects warnings"
    assert list(json.loads(out.read_text())) == keys.split()


def test_the_command_refuses_an_unknown_shop_or_family(shop: ShopPeople, tmp_path: Path) -> None:
    for asked in (["--shop", "nobody"], ["--shop", shop.shop.slug, "--family", "paper"]):
        with pytest.raises(CommandError) as refused:
            call_command("review", *asked, "--json", str(tmp_path / "out.json"))
        assert refused.value.returncode == 2
    assert not (tmp_path / "out.json").exists()


def test_a_flat_file_is_reviewed_with_the_same_keys(tmp_path: Path) -> None:
    rows = "".join(f"{n % 20},14,{'' if n % 7 else 90},{'yes' if n % 3 else 'no'}\n" for n in range(200))
    (tmp_path / "lives.csv").write_text("\ufeffcluster,clean_day,failed_day,post_heated\n" + rows)
    out = tmp_path / "out.json"
    call_command("review_file", str(tmp_path / "lives.csv"), "--json", str(out), "--factors", "post_heated")
    found = json.loads(out.read_text())
    assert (found["rows"], found["clusters"], found["failures"]) == (200, 20, 29)
    assert [(e["factor"], e["level"], e["reference"]) for e in found["effects"]] == [
        ("post_heated", "no", "yes")
    ]


def test_a_bad_flat_file_is_refused_with_line_and_column(tmp_path: Path) -> None:
    (tmp_path / "lives.csv").write_text("cluster,clean_day,failed_day\n1,14,\n2,soon,\n")
    with pytest.raises(CommandError, match="line 3, column clean_day") as refused:
        call_command("review_file", str(tmp_path / "lives.csv"), "--json", str(tmp_path / "out.json"))
    assert refused.value.returncode == 2
