"""What really goes into a holder's calendar: the attachments of the mails, and the file from the own page."""

from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from shopwarranty.inspections import actions
from shopwarranty.inspections.models import Booking, Check
from shopwarranty.inspections.slots import slot_at
from shopwarranty.outbox.models import Message
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.history import Actor
from tests import builders as b

from .strict_calendar import Block, read, unescape
from .test_holder import link_to


@pytest.fixture
def now(monkeypatch: pytest.MonkeyPatch) -> datetime:
    monkeypatch.setattr(timezone, "now", lambda: b.NOW)
    return b.NOW


def slot(check: Check, day: date, hour: int) -> Any:
    starts = datetime(day.year, day.month, day.day, hour)  # noqa: DTZ001 a wall time of the shop
    return slot_at(starts, zone=check.shop.time_zone, minutes=check.plan.minutes, lane=1)


def entry_of(booking: Booking) -> tuple[Block, str]:
    """The last calendar file that went out about a booking, and its media type."""
    message = Message.objects.filter(about__contains=booking.uid.hex).order_by("-pk")[0]
    (file,) = (each for each in message.attachments if each["name"].endswith(".ics"))
    Message.objects.update(state=Message.State.SENT, settled_at=b.NOW)
    return read(stored_bytes.read(file["sha256"])), file["content_type"]


def said(booking: Booking) -> tuple[str, str, str]:
    """METHOD, SEQUENCE and STATUS of what was told last; part and header name the same method."""
    calendar, media = entry_of(booking)
    (event,) = calendar.parts("VEVENT")
    method = calendar.one("METHOD").value
    assert media == f"text/calendar; charset=utf-8; method={method}"  # RFC 5545 section 8.1, RFC 6047
    assert event.one("UID").value == str(booking.uid)
    return method, event.one("SEQUENCE").value, event.one("STATUS").value


def test_e58_the_life_of_a_booking_has_the_sequences_of_the_standard(ours: Any, now: datetime) -> None:
    """RFC 5546 sections 2.1.4, 3.2.2 and 3.2.5: UID stays, SEQUENCE only grows; booked anew it is another."""
    check, actor = b.a_check(due_on=b.TODAY + timedelta(days=2)), Actor.of(ours.desk)
    first_day, other_day = b.TODAY + timedelta(days=2), b.TODAY + timedelta(days=5)
    booked = actions.book_check(check=check, slot=slot(check, first_day, 10), actor=actor, now=b.NOW)
    assert said(booked) == ("REQUEST", "0", "CONFIRMED")
    moved = actions.move_booking(booking=booked, slot=slot(check, other_day, 10), actor=actor, now=b.NOW)
    assert said(moved) == ("REQUEST", "1", "CONFIRMED")
    back = actions.move_booking(booking=moved, slot=slot(check, first_day, 10), actor=actor, now=b.NOW)
    assert said(back) == ("REQUEST", "2", "CONFIRMED")
    assert booked.uid == moved.uid == back.uid
    actions.cancel_booking(booking=back, by_holder=True, actor=actor, now=b.NOW)
    assert said(back) == ("CANCEL", "3", "CANCELLED")
    again = actions.book_check(check=check, slot=slot(check, first_day, 10), actor=actor, now=b.NOW)
    assert said(again) == ("REQUEST", "0", "CONFIRMED")
    assert again.uid != back.uid


def test_the_invitation_has_zone_alarm_and_answerable_attendee(ours: Any, now: datetime) -> None:
    """RFC 5545 sections 3.6.5 and 3.6.6, RFC 5546 section 2.1.1."""
    check = b.a_check(due_on=b.TODAY + timedelta(days=2))
    day = b.TODAY + timedelta(days=2)
    booked = actions.book_check(check=check, slot=slot(check, day, 10), actor=Actor.of(ours.desk), now=b.NOW)
    calendar, _media = entry_of(booked)
    (event,) = calendar.parts("VEVENT")
    assert event.one("DTSTART").params == {"TZID": "America/New_York"}
    assert event.one("DTSTART").value == "20261127T100000"
    assert calendar.parts("VTIMEZONE")[0].one("TZID").value == "America/New_York"
    assert event.parts("VALARM")[0].one("TRIGGER").value == "-PT24H"
    assert event.one("ATTENDEE").params["PARTSTAT"] == "NEEDS-ACTION"


def test_a_calendar_entry_holds_neither_the_private_address_nor_a_name_beside_the_attendee(
    ours: Any, now: datetime
) -> None:
    """Calendars are shared. The words say the time in the shop's zone, for who reads it elsewhere (E65)."""
    check = b.a_check(due_on=b.TODAY + timedelta(days=2))
    day = b.TODAY + timedelta(days=2)
    booked = actions.book_check(check=check, slot=slot(check, day, 10), actor=Actor.of(ours.desk), now=b.NOW)
    calendar, _media = entry_of(booked)
    (event,) = calendar.parts("VEVENT")
    words = unescape(event.one("DESCRIPTION").value).replace("\u00a0", " ")
    assert "Friday, November 27, 10:00 am (America/New York time)" in words
    assert "does not end your warranty" in words
    text = " ".join(line.value for line in event.lines if line.name != "ATTENDEE")
    assert "your-film" not in text
    assert "A. Example" not in text


def test_the_file_of_the_own_page_is_the_same_entry_with_its_alarm_and_nobody_to_answer(
    ours: Any, now: datetime
) -> None:
    """RFC 5546 section 3.2.1: PUBLISH has no ATTENDEE and may have alarms; the UID is the invitation's."""
    check = b.a_check(due_on=b.TODAY + timedelta(days=2))
    booking = b.a_booking(check, on=b.TODAY + timedelta(days=2))
    answer = Client().get(f"{link_to(check)}check/{check.pk}/appointment.ics")
    assert answer["Content-Type"] == "text/calendar; charset=utf-8; method=PUBLISH"
    assert answer["Content-Disposition"] == 'attachment; filename="appointment.ics"'
    calendar = read(answer.content)
    (event,) = calendar.parts("VEVENT")
    assert calendar.one("METHOD").value == "PUBLISH"
    assert event.one("UID").value == str(booking.uid)
    assert event.one("ORGANIZER").value == "mailto:desk@kiln.example"
    assert not event.all("ATTENDEE")
    assert event.parts("VALARM")[0].one("TRIGGER").value == "-PT24H"


def test_without_a_mail_address_of_the_shop_the_file_is_a_plain_entry(ours: Any, now: datetime) -> None:
    """RFC 5545 section 3.7.2: METHOD is optional; a REQUEST or PUBLISH would have to name an organizer."""
    ours.shop.email = ""
    ours.shop.save()
    check = b.a_check(due_on=b.TODAY + timedelta(days=2))
    b.a_booking(check, on=b.TODAY + timedelta(days=2))
    answer = Client().get(f"{link_to(check)}check/{check.pk}/appointment.ics")
    calendar = read(answer.content)
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert not calendar.all("METHOD")
    assert not calendar.parts("VEVENT")[0].all("ORGANIZER")


def test_there_is_no_file_of_what_has_no_time(ours: Any, now: datetime) -> None:
    check = b.a_check(due_on=b.TODAY + timedelta(days=2))
    assert Client().get(f"{link_to(check)}check/{check.pk}/appointment.ics").status_code == 404
