"""A logger's file in the shapes loggers write: semicolons and commas, F and C, days before months."""

from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from shopwarranty.jobs.logger_file import NotALoggerFile, humidity_from_dew, moment, read_logger_file
from shopwarranty.jobs.models import Job, Reading
from shopwarranty.jobs.record import load_record
from tests.conftest import NOW

from .conftest import Bench

BERLIN, NEW_YORK = ZoneInfo("Europe/Berlin"), ZoneInfo("America/New_York")


def url(name: str, *args: Any) -> str:
    return reverse(name, args=["kiln", *args])


def only(text: str, *, zone: Any = BERLIN, day_first: bool = True, code: str = "utf-8") -> Any:
    (line,) = read_logger_file(text.encode(code)).lines(zone=zone, day_first=day_first)
    return line


def test_semicolons_and_decimal_commas_with_a_preamble() -> None:
    text = "Logger 7\nSerial;123\nDatum/Zeit;Temperatur (°C);Luftfeuchte (%rF);Taupunkt (°C)\n"
    line = only(text + "25.11.2026 15:02:10;21,4;48,5;10,1\n")
    assert line.at == datetime(2026, 11, 25, 15, 2, 10, tzinfo=BERLIN)
    assert (line.air, line.humidity, line.dew) == (21.4, 48.5, 10.1)


def test_commas_and_points_in_the_other_half_of_the_world() -> None:
    text = 'Time,"Temperature (°F)","Relative Humidity (%)"\n11/25/2026 9:02:10 AM,70.5,48.5\n'
    found = read_logger_file(text.encode())
    assert (found.unit, found.day_first, found.delimiter) == ("F", False, ",")
    (line,) = found.lines(zone=NEW_YORK, day_first=True)
    assert (line.at.hour, line.at.month, line.air) == (9, 11, 70.5)


@pytest.mark.parametrize(
    ("code", "head"), [("utf-8-sig", "Zeit;Temp °C"), ("cp1252", "Zeit;Temp °C"), ("utf-16", "Zeit;Temp °C")]
)
def test_the_codings_that_spreadsheets_write_are_read(code: str, head: str) -> None:
    line = only(f"{head}\n2026-11-25 15:02;21,4\n", code=code)
    assert line.air == 21.4


def test_day_and_clock_may_stand_apart_and_offsets_win_over_the_zone() -> None:
    apart = only("Date,Time,Temp C,Surface C\n2026-11-25,15:02:00,21.4,19.0\n")
    assert (apart.at, apart.surface) == (datetime(2026, 11, 25, 15, 2, tzinfo=BERLIN), 19.0)
    assert only("time\ttemp (C)\n2026-11-25T15:02:00Z\t21\n").at == datetime(2026, 11, 25, 15, 2, tzinfo=UTC)


def test_what_the_file_does_not_say_stays_open() -> None:
    found = read_logger_file(b"time;temp\n05/06/2026 10:00;21,5\n")
    assert (found.unit, found.day_first) == ("", None)
    at = found.lines(zone=BERLIN, day_first=True)[0].at
    assert (at.day, at.month) == (5, 6)


@pytest.mark.parametrize("sent", [b"", b"no,columns\n1,2\n", b"time;temp\n", b"\x00\x01\x02", b"\xff\xfe"])
def test_what_is_no_loggers_file_is_refused(sent: bytes) -> None:
    with pytest.raises(NotALoggerFile):
        read_logger_file(sent)


def test_lines_may_end_as_old_machines_ended_them() -> None:
    assert only("time;temp °C\r2026-11-25 10:00;20,5\r").air == 20.5


def test_a_quotation_mark_that_never_ends_is_refused(client: Client, job: Job) -> None:
    sent = b'Time,Temp (C)\n2026-11-25 10:00,"' + b"x" * 1_100_000
    answer = look(client, job, sent)
    assert "No row of it names a time and a temperature" in answer.content.decode()


def test_rows_that_cannot_be_read_are_left_out_and_odd_numbers_with_them() -> None:
    text = "time;temp °C;rh %\nnever;1;1\n2026-11-25 10:00;nan;50\n2026-13-40 10:00;20;50\n"
    text += "2026-11-25 10:05;20;140\n"
    line = only(text)
    assert (line.air, line.humidity) == (20.0, None)


def test_noon_and_midnight_on_a_twelve_hour_clock() -> None:
    assert moment("11/25/2026 12:05 AM", UTC, False) == datetime(2026, 11, 25, 0, 5, tzinfo=UTC)
    assert moment("11/25/2026 12:05 pm", UTC, False) == datetime(2026, 11, 25, 12, 5, tzinfo=UTC)


@pytest.mark.parametrize(
    ("air", "humidity", "dew"), [(20, 50, 9.3), (22, 60, 13.9), (25, 40, 10.5), (30, 75, 25.1), (10, 90, 8.4)]
)
def test_humidity_comes_back_from_the_dew_point(air: float, humidity: float, dew: float) -> None:
    """Check values of the Magnus form (17.62, 243.12), worked out by hand to a tenth of a degree."""
    found = humidity_from_dew(air, dew)
    assert found is not None
    assert abs(found - humidity) < 0.6
    assert humidity_from_dew(10, 12) is None


@pytest.fixture
def job(bench: Bench) -> Job:
    return bench.front(("bonnet",), started_at=NOW - timedelta(hours=2))


@pytest.fixture
def client(bench: Bench) -> Client:
    return bench.people.client(bench.people.installer)


@pytest.fixture
def minutes(monkeypatch: Any) -> bytes:
    """A day of one reading a minute in New York's time, 68 to 70 F, until noon."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    first = datetime(2026, 11, 25, 0, 0)  # noqa: DTZ001 (a logger's own clock)
    rows = [f"{first + timedelta(minutes=n):%m/%d/%Y %H:%M},{68 + n % 3},50" for n in range(12 * 60)]
    return "\n".join(["Time,Temp (F),RH (%)", *rows]).encode()


def look(client: Client, job: Job, sent: bytes, **more: str) -> Any:
    file = SimpleUploadedFile("log.csv", sent)
    return client.post(url("logger-file", job.pk), {"file": file, "act": "show", **more})


def test_what_was_read_is_shown_before_anything_is_kept(client: Client, job: Job, minutes: bytes) -> None:
    answer = look(client, job, minutes)
    assert answer.context["read"] == 720
    assert len(answer.context["kept"]) == 19  # from an hour before it began, 7:00, to now, 10:00: one in ten
    assert not Reading.objects.exists()
    text = answer.context["form"].initial["text"]
    client.post(url("logger-file", job.pk), {"text": text, "unit": "F", "clock": "shop", "act": "keep"})
    assert Reading.objects.count() == 19
    one = Reading.objects.all()[0]
    assert (one.air_typed, round(one.air_c or 0), one.air_c_basis) == ("68 F", 20, "imported")
    assert one.at.astimezone(NEW_YORK).hour == 7


def test_the_same_file_twice_keeps_each_reading_once_and_a_panel_goes_by_the_nearest(
    client: Client, job: Job, minutes: bytes
) -> None:
    text = look(client, job, minutes).context["form"].initial["text"]
    for _time in range(2):
        client.post(url("logger-file", job.pk), {"text": text, "unit": "F", "act": "keep"})
    assert Reading.objects.count() == 19
    reading = load_record(job).panels[0].reading
    assert reading is not None
    assert reading.at == max(Reading.objects.values_list("at", flat=True))


def test_a_file_that_does_not_say_its_unit_is_asked_and_nothing_is_kept_until_then(
    client: Client, job: Job, minutes: bytes
) -> None:
    silent = minutes.replace(b"Temp (F)", b"Temp")
    answer = look(client, job, silent)
    assert "press C or F" in answer.content.decode()
    client.post(url("logger-file", job.pk), {"text": answer.context["form"].initial["text"], "act": "keep"})
    assert not Reading.objects.exists()


def test_numbers_at_home_in_the_other_unit_are_doubted(client: Client, job: Job, minutes: bytes) -> None:
    assert "C or F?" not in look(client, job, minutes).content.decode().replace("<legend>C or F?", "")
    doubted = look(client, job, minutes.replace(b"(F)", b"(C)"))
    assert doubted.context["doubtful"] is True


def test_a_file_that_cannot_be_read_is_said_so(client: Client, job: Job) -> None:
    assert "No row of it names a time" in look(client, job, b"nothing").content.decode()
