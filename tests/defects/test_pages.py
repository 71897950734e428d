"""The check on a phone panel by panel, without any script; defects and places as pages."""

import re
from datetime import datetime
from io import BytesIO
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from PIL import Image

from shopwarranty.defects.look_forms import rulers
from shopwarranty.defects.models import Defect, LiftLikelihood, ShopDefectKind, Sighting
from shopwarranty.inspections.models import Check, Finding, Visit
from shopwarranty.jobs.models import FilmPiece, Photo, Place
from shopwarranty.shops.scope import shop_scope
from tests import builders as b

FRONT = ("front-bumper", "left-front-door", "right-front-door")


@pytest.fixture
def now(monkeypatch: pytest.MonkeyPatch) -> datetime:
    """Pages take the moment from the clock: here it stands at Wednesday, 10:00 in New York."""
    monkeypatch.setattr(timezone, "now", lambda: b.NOW)
    return b.NOW


@pytest.fixture
def job(ours: Any) -> Any:
    return b.a_job(panels=FRONT, handed_over_on=b.days_ago(14))


@pytest.fixture
def page(ours: Any, now: datetime) -> Any:
    client = ours.client(ours.installer)

    def ask(path: str, sent: dict[str, Any] | None = None, **more: Any) -> Any:
        address = path if path.startswith("/s/") else f"/s/kiln/{path}"
        return client.get(address, **more) if sent is None else client.post(address, sent, **more)

    return ask


def text_of(answer: Any) -> str:
    assert answer.status_code == 200, answer.status_code
    words = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return " ".join(words.replace("\u00a0", " ").split())


def started(page: Any, job: Any) -> tuple[Visit, list[int]]:
    """A planned visit opened on the page, and its panels in walking order."""
    check = b.a_check(job)
    page(f"checks/{check.pk}/start/", {})
    return Visit.objects.get(state="open"), list(job.panels.order_by("walk").values_list("pk", flat=True))


def answers(place: Place, result: str, **sight: Any) -> dict[str, Any]:
    said = {f"p{place.pk}-result": result, f"p{place.pk}-was": "0", f"p{place.pk}-sights": "1"}
    return {**said, **{f"p{place.pk}-0-{name}": value for name, value in sight.items()}}


def told(visit: Visit) -> dict[str, tuple[str, str]]:
    rows = visit.findings.filter(corrected_at__isnull=True).select_related("place__piece__panel_work")
    return {f"{row.place.piece.panel_work.panel} {row.place.key}": (row.result, row.said) for row in rows}


WRONG = {"kind": "edge-lift", "extent": "0.5", "severity": "2"}


def prove(page: Any, visit: Visit, found: str = "clean") -> Any:
    """Answers every place drawn for a second look."""
    drawn = {f"spot-{spot.pk}": found for spot in visit.spots.filter(found="")}
    return page(f"visits/{visit.pk}/spots/", drawn, follow=True)


def test_a_whole_check_takes_one_press_a_panel_one_to_finish_and_a_second_look_at_two_places(
    page: Any, job: Any
) -> None:
    visit, panels = started(page, job)
    answer = page(f"visits/{visit.pk}/go-on/", follow=True)
    for number, panel in enumerate(panels, 1):
        assert f"Panel {number} of 3" in text_of(answer)
        answer = page(f"visits/{visit.pk}/panels/{panel}/", {"act": "sweep"}, follow=True)
    assert "Finish" in text_of(answer)
    asked = page(f"visits/{visit.pk}/finish/", {"note": ""}, follow=True)
    assert "Look at 2 places once more" in text_of(asked)
    prove(page, visit)
    visit.refresh_from_db()
    assert (visit.state, Check.objects.get().state) == ("finished", "done")
    assert set(told(visit).values()) == {("clean", "swept"), ("clean", "spot_proved")}


def test_a_lift_is_said_with_kind_size_and_severity_and_the_rest_swept(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    window = b.a_place(job, "window", "left-front-door")
    sent = {**answers(window, "defect", **WRONG), "act": "sweep"}
    answer = page(f"visits/{visit.pk}/panels/{panels[1]}/", sent, follow=True)
    sighting = Sighting.objects.get()
    assert (sighting.defect.kind, sighting.severity, sighting.extent_mm) == ("edge-lift", 2, 12.7)
    told_now = told(visit)
    assert told_now.pop("left-front-door window") == ("defect", "tapped")
    assert set(told_now.values()) == {("clean", "swept")}
    assert "more places looked at and clean." in text_of(answer)


def test_next_leaves_unsaid_what_nobody_said_and_the_end_says_how_many(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    window = b.a_place(job, "window", "left-front-door")
    page(f"visits/{visit.pk}/panels/{panels[1]}/", {**answers(window, "clean"), "act": "next"})
    count = len(b.places_of(job))
    end = text_of(page(f"visits/{visit.pk}/"))
    assert f"1 of {count} places looked at." in end
    assert f"{count - 1} places are not looked at." in end
    page(f"visits/{visit.pk}/finish/", {})
    states = [result for result, _ in told(visit).values()]
    assert (states.count("clean"), states.count("not_looked")) == (1, count - 1)


def test_the_last_sweep_can_be_undone_while_the_visit_is_open(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    answer = page(f"visits/{visit.pk}/panels/{panels[0]}/", {"act": "sweep"}, follow=True)
    undo = f"/s/kiln/visits/{visit.pk}/panels/{panels[0]}/undo/"
    assert undo in answer.content.decode()
    page(undo, {})
    assert told(visit) == {}


def test_wrong_without_kind_or_severity_says_so_and_keeps_what_was_typed(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    window = b.a_place(job, "window", "left-front-door")
    sent = {**answers(window, "defect", extent="0.75", note="at the rear"), "act": "sweep"}
    answer = page(f"visits/{visit.pk}/panels/{panels[1]}/", sent)
    words = text_of(answer)
    assert "Say what is wrong here." in words
    assert "Say how bad it is." in words
    assert b'value="0.75"' in answer.content
    assert b'value="at the rear"' in answer.content
    assert told(visit) == {}


def test_a_kind_from_the_long_list_wins_over_the_pieces(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    window = b.a_place(job, "window", "left-front-door")
    sent = answers(window, "defect", **{**WRONG, "other": "impact-damage"})
    page(f"visits/{visit.pk}/panels/{panels[1]}/", {**sent, "act": "next"})
    assert Defect.objects.get().kind == "impact-damage"


def test_E73_room_for_one_more_kind_at_the_same_place(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    window = b.a_place(job, "window", "left-front-door")
    here = f"visits/{visit.pk}/panels/{panels[1]}/"
    answer = page(here, {**answers(window, "defect", **WRONG), "act": f"more-{window.pk}"})
    shown = page(answer["Location"].partition("#")[0]).content.decode()
    assert f'name="p{window.pk}-1-severity"' in shown
    version = Finding.objects.get().version
    second = {f"p{window.pk}-1-kind": "crease", f"p{window.pk}-1-severity": "1"}
    sent = {**answers(window, "defect", **WRONG), **second, f"p{window.pk}-sights": "2"}
    page(here, {**sent, f"p{window.pk}-was": version, "act": "next"})
    assert set(Defect.objects.values_list("kind", flat=True)) == {"edge-lift", "crease"}


def test_the_same_kind_twice_at_one_place_is_pointed_out(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    window = b.a_place(job, "window", "left-front-door")
    second = {f"p{window.pk}-1-{name}": value for name, value in WRONG.items()}
    sent = {**answers(window, "defect", **WRONG), **second, f"p{window.pk}-sights": "2", "act": "next"}
    answer = page(f"visits/{visit.pk}/panels/{panels[1]}/", sent)
    assert "This is named above already." in text_of(answer)


def test_two_people_on_one_panel_see_what_the_other_said_before_it_is_replaced(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    window = b.a_place(job, "window", "left-front-door")
    here = f"visits/{visit.pk}/panels/{panels[1]}/"
    page(here, {**answers(window, "defect", **WRONG), "act": "next"})
    stale = page(here, {**answers(window, "clean"), "act": "next"})
    assert "Somebody said “wrong” here in the meantime." in text_of(stale)
    assert Defect.objects.exists()
    version = re.search(rf'name="p{window.pk}-was" value="(\d+)"', stale.content.decode())
    assert version is not None
    knowing = {**answers(window, "clean"), f"p{window.pk}-was": version[1], "act": "next"}
    page(here, knowing)
    assert told(visit)["left-front-door window"] == ("clean", "tapped")
    assert not Defect.objects.exists()


def test_sending_the_same_page_twice_stores_it_once(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    window = b.a_place(job, "window", "left-front-door")
    for _ in range(2):
        sent = {**answers(window, "defect", **WRONG), "act": "sweep"}
        page(f"visits/{visit.pk}/panels/{panels[1]}/", sent)
    assert (Defect.objects.count(), Sighting.objects.count()) == (1, 1)
    assert visit.findings.count() == len(b.places_of(job, "left-front-door"))


def test_recesses_and_what_was_not_post_heated_come_first_with_the_reason(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    Place.objects.filter(key="bottom").update(post_heated=False, post_heated_basis="stated")
    shown = text_of(page(f"visits/{visit.pk}/panels/{panels[1]}/"))
    handle, bottom, window = (
        shown.index(f" {name} ") for name in ("Handle cup", "Bottom edge", "Window line")
    )
    assert handle < bottom < window or bottom < handle < window
    assert "Left without post-heat." in shown
    assert "Film pressed into a recess pulls out first." in shown


def test_the_reviews_likelihoods_decide_the_order_when_there_are_any(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    for place in b.places_of(job, "left-front-door"):
        likely = 0.3 if place.key == "window" else 0.01
        LiftLikelihood.objects.create(
            place=place, likelihood=likely, reason="3 of 40 lifted", worked_out_at=b.NOW
        )
    shown = text_of(page(f"visits/{visit.pk}/panels/{panels[1]}/"))
    assert shown.index(" Window line ") < shown.index(" Handle cup ")
    assert shown.count("3 of 40 lifted") == 1


def test_an_open_defect_is_looked_at_first_of_all(page: Any, job: Any) -> None:
    b.looked_at(job, b.days_ago(3), {"bottom": 3}, origin="defect")
    visit, panels = started(page, job)
    shown = text_of(page(f"visits/{visit.pk}/panels/{panels[1]}/"))
    assert "Not put right yet: edge lift." in shown
    assert shown.index(" Bottom edge ") < shown.index(" Handle cup ")


def test_E62_by_photo_there_is_no_button_for_the_rest(page: Any, job: Any) -> None:
    page(f"jobs/{job.pk}/look/", {"origin": "defect", "by_photo": "on", "since_when": "2026-11-20"})
    visit = Visit.objects.get()
    assert (visit.by_photo, visit.since_when.isoformat() if visit.since_when else "") == (True, "2026-11-20")
    panel = job.panels.first().pk
    assert "looked, clean" not in text_of(page(f"visits/{visit.pk}/panels/{panel}/"))
    refused = page(f"visits/{visit.pk}/panels/{panel}/", {"act": "sweep"})
    assert "A photo proves only what it shows." in text_of(refused)
    assert told(visit) == {}


def test_E60_a_walk_in_is_started_from_the_job(page: Any, job: Any) -> None:
    check = b.a_check(job)
    page(f"jobs/{job.pk}/look/", {"origin": "walk_in"})
    assert Visit.objects.get().check_due == check


def test_a_visit_already_open_is_gone_on_with(page: Any, job: Any) -> None:
    visit, _ = started(page, job)
    answer = page(f"jobs/{job.pk}/look/")
    assert answer["Location"] == f"/s/kiln/visits/{visit.pk}/go-on/"


def test_the_handover_look_uses_the_same_pages(page: Any, ours: Any) -> None:
    job = b.a_job(panels=FRONT)
    page(f"jobs/{job.pk}/handover-look/", {})
    visit = Visit.objects.get()
    assert visit.is_handover_look
    for panel in job.panels.values_list("pk", flat=True):
        page(f"visits/{visit.pk}/panels/{panel}/", {"act": "sweep"})
    answer = page(f"visits/{visit.pk}/finish/", {})
    assert answer["Location"].startswith(f"/s/kiln/jobs/{job.pk}/hand-over")


def test_E71_a_place_that_is_not_on_the_list_is_added_and_answered(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    piece = FilmPiece.objects.get(panel_work=panels[1])
    sent = {"name": "Antenna base", "kind": "edge", "piece": piece.pk}
    page(f"visits/{visit.pk}/panels/{panels[1]}/unrecorded/", sent)
    assert " Antenna base " in text_of(page(f"visits/{visit.pk}/panels/{panels[1]}/"))
    assert Place.objects.get(key="antenna-base").added_on == b.TODAY


def test_E72_film_that_is_not_ours_is_noted_with_the_visit(page: Any, job: Any) -> None:
    visit, _ = started(page, job)
    page(f"visits/{visit.pk}/not-ours/", {"panel": "Roof", "words": "lifting at the front"})
    assert "Roof: lifting at the front" in page(f"visits/{visit.pk}/").content.decode()


def test_a_place_still_undescribed_is_where_finishing_leads_to(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    b.a_finding(visit, b.a_place(job, "window", "left-front-door"), "defect")
    answer = page(f"visits/{visit.pk}/finish/", {})
    assert answer["Location"] == f"/s/kiln/visits/{visit.pk}/panels/{panels[1]}/"


def test_a_visit_started_by_mistake_is_dropped(page: Any, job: Any) -> None:
    visit, _ = started(page, job)
    page(f"visits/{visit.pk}/drop/", {})
    visit.refresh_from_db()
    assert visit.state == "dropped"


def picture() -> SimpleUploadedFile:
    file = BytesIO()
    Image.new("RGB", (40, 30), "grey").save(file, "JPEG")
    return SimpleUploadedFile("lift.jpg", file.getvalue(), "image/jpeg")


def test_a_photo_taken_beside_the_answer_belongs_to_the_defect(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    window = b.a_place(job, "window", "left-front-door")
    sent = {**answers(window, "defect", **WRONG, photo=picture()), "act": "next"}
    page(f"visits/{visit.pk}/panels/{panels[1]}/", sent)
    photo = Photo.objects.get()
    assert (photo.place, photo.stage) == (window, "check")
    assert list(Defect.objects.get().photos.values_list("photo", flat=True)) == [photo.pk]


def test_a_file_that_is_no_photo_is_named_and_the_finding_is_kept(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    window = b.a_place(job, "window", "left-front-door")
    broken = SimpleUploadedFile("lift.jpg", b"no picture", "image/jpeg")
    sent = {**answers(window, "defect", **WRONG, photo=broken), "act": "next"}
    answer = page(f"visits/{visit.pk}/panels/{panels[1]}/", sent, follow=True)
    assert "lift.jpg" in text_of(answer)
    assert (Defect.objects.count(), Photo.objects.count()) == (1, 0)


def test_a_finding_is_corrected_on_its_own_page_with_a_reason(page: Any, job: Any) -> None:
    visit = b.looked_at(job, b.days_ago(3), {"window": 3})
    finding = visit.findings.filter(result="defect").earliest("pk")
    sent = {**answers(finding.place, "clean"), "why": ""}
    assert page(f"findings/{finding.pk}/correct/", sent).status_code == 200
    assert page(f"findings/{finding.pk}/correct/", {**sent, "why": "wrong door"}).status_code == 302
    shown = page(f"visits/{visit.pk}/").content.decode()
    assert "Corrected, was “wrong”: wrong door" in shown


# --- defects


@pytest.fixture
def defect(job: Any) -> Defect:
    b.looked_at(job, b.days_ago(10), {"window": 1})
    b.looked_at(job, b.days_ago(3), {"window": 3})
    return Defect.objects.filter(place__piece__panel_work__panel="left-front-door").get()


def test_the_list_shows_open_ones_first_and_filters(page: Any, defect: Defect) -> None:
    answer = text_of(page("defects/"))
    assert "2 defects are open." in answer
    assert "Left front door, window line" in answer
    assert "No defect here" in text_of(page("defects/?state=remedied"))
    right = text_of(page("defects/?state=all&panel=right-front-door&kind=edge-lift"))
    assert "Right front door, window line" in right
    assert "Left front door, window line" not in right
    assert defect.number in text_of(page(f"defects/?words={defect.number}"))


def test_the_defects_page_shows_its_trend_record_and_neighbours(page: Any, defect: Defect) -> None:
    last = defect.sightings.latest("pk")
    assert last.extent_mm == 12
    shown = text_of(page(f"defects/{defect.pk}/"))
    assert "Edge lift, 0.47 in: Left front door, window line" in shown
    assert "As large as 7 days before." in shown
    assert "1, trace, seen only close up" in shown
    assert "3, growing or catching dirt" in shown
    assert "Post-heated not recorded" in shown


def test_the_cause_is_judged_apart(page: Any, defect: Defect) -> None:
    page(f"defects/{defect.pk}/cause/", {"cause": "washing", "sure": ""})
    page(f"defects/{defect.pk}/cause/", {"cause": "washing", "sure": "likely"})
    assert "Washing or chemicals (likely)" in text_of(page(f"defects/{defect.pk}/"))


def test_E68_not_found_again_is_kept_as_that(page: Any, defect: Defect) -> None:
    page(f"defects/{defect.pk}/verify/", {"found": "no"})
    assert "Could not be found again" in text_of(page(f"defects/{defect.pk}/"))
    page(f"defects/{defect.pk}/verify/", {"found": "yes"})
    defect.refresh_from_db()
    assert (defect.state, defect.verified) == ("open", True)


def test_a_remedy_is_recorded_in_the_shops_units(page: Any, defect: Defect) -> None:
    sent = {"kind": "reheat", "done_on": b.TODAY.isoformat(), "heat": "203", "passes": "2", "minutes": "15"}
    page(f"defects/{defect.pk}/remedy/", sent)
    remedy = defect.remedies.get()
    assert (remedy.post_heat_c, remedy.passes, remedy.minutes) == (95.0, 2, 15)
    shown = text_of(page(f"defects/{defect.pk}/"))
    assert "Heated and pressed again" in shown
    assert "203 °F" in shown


def test_a_remedy_before_the_find_is_refused_in_words(page: Any, defect: Defect) -> None:
    sent = {"kind": "reheat", "done_on": b.days_ago(30).isoformat(), "note": "quick press"}
    answer = page(f"defects/{defect.pk}/remedy/", sent)
    assert "A remedy lies between the day the defect was found and today." in text_of(answer)
    assert "quick press" in answer.content.decode()


def test_photos_are_added_to_a_defect(page: Any, defect: Defect) -> None:
    page(f"defects/{defect.pk}/photos/", {"photos": [picture()]})
    assert defect.photos.count() == 1
    assert "/s/kiln/photos/" in page(f"defects/{defect.pk}/").content.decode()


def test_the_story_of_a_place_tells_every_life_and_look(page: Any, defect: Defect) -> None:
    from shopwarranty.defects.lives import rebuild_lives

    b.looked_at(defect.place.piece.panel_work.job, b.days_ago(2), {"window": 3}, origin="defect")
    b.a_remedy(defect, b.days_ago(1))
    rebuild_lives()
    shown = text_of(page(f"places/{defect.place_id}/story/"))
    assert "Life 1, from November 11, 2026" in shown
    assert "failed between 4 days and 11 days" in shown
    assert "Life 2, from November 24, 2026" in shown
    assert "Not a planned check" in shown
    assert "The line is 2." in shown


def test_only_an_owner_adds_kinds_of_defect(page: Any, ours: Any) -> None:
    assert page("defect-kinds/").status_code == 403
    owner = ours.client(ours.owner)
    sent = {"name": "Flag", "graded_by": "length", "counts": "yes", "place_kinds": ["edge"]}
    owner.post("/s/kiln/defect-kinds/", sent)
    kind = ShopDefectKind.objects.get()
    assert (kind.key, kind.is_failure, kind.place_kinds) == ("flag", True, ["edge"])
    again = owner.post("/s/kiln/defect-kinds/", sent)
    assert "There is one of that name already." in text_of(again)


def test_pages_ask_the_database_as_often_however_much_there_is(
    page: Any, ours: Any, django_assert_max_num_queries: Any
) -> None:
    counts: dict[str, list[int]] = {}
    for panels in (("left-front-door",), (*FRONT, "bonnet", "roof")):
        job = b.a_job(panels=panels, handed_over_on=b.days_ago(14))
        b.looked_at(job, b.days_ago(7), {"window": 3, "bottom": 1})
        visit = b.a_visit(job, finished=False)
        place = b.a_place(job, "window", "left-front-door")
        defect = Defect.objects.filter(place=place).get()
        work = place.piece.panel_work_id
        for name, path in {
            "panel": f"visits/{visit.pk}/panels/{work}/",
            "end": f"visits/{visit.pk}/",
            "visit": f"visits/{Visit.objects.filter(job=job, state='finished').get().pk}/",
            "defect": f"defects/{defect.pk}/",
            "place": f"places/{place.pk}/story/",
            "defects": "defects/?state=all",
        }.items():
            with django_assert_max_num_queries(60) as captured:
                assert page(path).status_code == 200
            counts.setdefault(name, []).append(len(captured))
    assert {name: few for name, (few, many) in counts.items() if few != many} == {}


def test_saving_a_panel_asks_in_proportion_to_its_places_only(page: Any, job: Any) -> None:
    """One press on a swept panel writes all its places at once."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    visit, panels = started(page, job)
    with CaptureQueriesContext(connection) as captured:
        page(f"visits/{visit.pk}/panels/{panels[1]}/", {"act": "sweep"})
    assert len(captured) < 40


def test_another_shop_sees_none_of_it(world: Any, now: datetime) -> None:
    with shop_scope(world.ours.shop):
        job = b.a_job(handed_over_on=b.days_ago(14))
        b.looked_at(job, b.days_ago(3), {"window": 3})
        defect = Defect.objects.get()
    client = world.theirs.client(world.theirs.owner)
    assert client.get(f"/s/fennel/defects/{defect.pk}/").status_code == 404
    assert client.get(f"/s/kiln/defects/{defect.pk}/").status_code == 404
    assert defect.number not in client.get("/s/fennel/defects/?state=all").content.decode()


def test_the_first_photo_of_a_place_stands_beside_the_camera(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    place = b.a_place(job, "window", "left-front-door")
    values = {"vehicle": job.vehicle, "job": job, "place": place, "sha256": "0" * 64, "length": 1}
    values |= {"original_sha256": "0" * 64, "width": 1, "height": 1}
    first = Photo.objects.create(**values, stage="handover", added_at=b.noon(b.days_ago(14)))
    Photo.objects.create(**values, stage="check", added_at=b.NOW)
    words = page(f"visits/{visit.pk}/panels/{panels[1]}/").content.decode()
    assert f"/photos/{first.pk}/small/" in words
    assert words.count("The same place at handover") == 1


def test_a_coin_or_a_card_stands_in_for_a_ruler_in_the_shops_unit(world: Any) -> None:
    """A quarter is 24.26 mm across (United States Mint), 0.955 in: an eighth-inch stepper says 1 in."""
    assert rulers(world.ours.shop)[0][1] == "1"
    assert [value for _words, value in rulers(world.theirs.shop)] == ["24", "23", "54", "86"]
