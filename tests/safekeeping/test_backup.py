"""A backup brought to a machine that has nothing is the same shop, and proves that it is.

Whole programs are run, in data folders of their own, the way an operator runs them.
"""

import hashlib
import io
import json
import os
import re
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, NamedTuple

import psycopg
import pytest
import pyzipper
from asn1crypto import pem, x509
from django.db import connection
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko.sign.validation.status import SignatureCoverageLevel
from pyhanko_certvalidator import ValidationContext

from tests.desk.flat_files import a_row, table
from tests.throwaway_stores import S3Server, s3_server

pytestmark = [pytest.mark.postgres, pytest.mark.xdist_group("backup")]
PHRASE = "a kettle sings at noon"
SECRET_FIELD = re.compile(r'name="csrfmiddlewaretoken" value="[^"]*"')


# Starting the program takes seconds, so several commands run in one; each gives its end and what it said.
DRIVER = """
import io, json, sys, traceback
import django
django.setup()
from django.core.management import CommandError, call_command
said = []
for command in json.loads(sys.argv[1]):
    out, err, code = io.StringIO(), io.StringIO(), 0
    try:
        if command[0] == "python":
            exec(command[1], {"out": out})
        else:
            call_command(*command, stdout=out, stderr=err)
    except CommandError as error:
        code = error.returncode
        err.write(str(error))
    except Exception:
        code = -1
        traceback.print_exc(file=err)
    said.append([code, out.getvalue(), err.getvalue()])
print(json.dumps(said))
"""
Command = tuple[str, ...]


class Said(NamedTuple):
    code: int
    out: str
    err: str


@dataclass(frozen=True, slots=True)
class Home:
    """An installation: a data folder and, on PostgreSQL, a database of its own."""

    folder: Path
    settings: dict[str, str] = field(default_factory=dict)

    @property
    def environment(self) -> dict[str, str]:
        kept = {key: value for key, value in os.environ.items() if not key.startswith("SHOPWARRANTY_")}
        own = {"DJANGO_SETTINGS_MODULE": "shopwarranty.settings", "SHOPWARRANTY_DATA_DIR": str(self.folder)}
        return {**kept, **self.settings, **own}

    def with_settings(self, **settings: str) -> "Home":
        return replace(self, settings={**self.settings, **settings})

    def try_to(self, *commands: Command) -> list[Said]:
        done = subprocess.run(
            [sys.executable, "-c", DRIVER, json.dumps(commands)],
            env=self.environment,
            capture_output=True,
            text=True,
            check=True,
        )
        assert done.stderr == ""
        return [Said(*each) for each in json.loads(done.stdout.splitlines()[-1])]

    def run(self, *commands: Command) -> list[str]:
        said = self.try_to(*commands)
        assert [each.err for each in said if each.code] == []
        return [each.out for each in said]

    def file(self, name: str) -> str:
        return str(self.folder / name)

    def export(self) -> Command:
        return ("export_jobs", "--shop", "harrow", self.file("jobs.csv"), self.file("findings.csv"))

    def exported(self) -> tuple[bytes, bytes]:
        return (self.folder / "jobs.csv").read_bytes(), (self.folder / "findings.csv").read_bytes()


@pytest.fixture(scope="module")
def new_home(tmp_path_factory: pytest.TempPathFactory, django_db_setup: None) -> Iterator[Callable[[], Home]]:
    made: list[str] = []

    def make() -> Home:
        folder = tmp_path_factory.mktemp("home")
        if connection.vendor == "sqlite":
            return Home(folder)
        name = f"home_{folder.name}_{os.getpid()}"
        with psycopg.connect(address(), autocommit=True) as server:
            server.execute(f'CREATE DATABASE "{name}"')
        made.append(name)
        return Home(folder, {"DATABASE_URL": address(name)})

    yield make
    for name in made:
        with psycopg.connect(address(), autocommit=True) as server:
            server.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def address(database: str = "postgres") -> str:
    values = connection.settings_dict
    return f"postgres://{values['USER']}:{values['PASSWORD']}@{values['HOST']}:{values['PORT']}/{database}"


SCOPED = """
import json
from datetime import UTC, datetime
from shopwarranty.outbox.actions import put_message
from shopwarranty.outbox.models import Message
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import shop_scope
from shopwarranty.warranty.models import Certificate
from shopwarranty.warranty.preparing import reserve_number
shop = Shop.objects.get(slug="harrow")
now = datetime(2026, 11, 25, 15, tzinfo=UTC)
"""
COMPLETE = (
    "python",
    SCOPED
    + """
Shop.objects.update(
    legal_name="Harrow Street Film Ltd", street="4 Harrow Street", town="Example Town", country="US",
    telephone="555-0100", email="desk@harrow.example", public_url="https://harrow.example",
)
with shop_scope(shop):
    put_message(key="waits", to="holder@example.com", subject="Soon", text="Soon.", now=now)
""",
)
ASK = (
    "python",
    SCOPED
    + """
with shop_scope(shop):
    issued = list(Certificate.objects.values_list("number", flat=True))
    messages = dict(Message.objects.values_list("key", "state"))
    out.write(json.dumps({"issued": issued, "messages": messages, "next": reserve_number(shop, now)}))
""",
)

# What a holder of the paper is told by the public page, and the keys that the papers were signed with.
CERTIFICATES = (
    "python",
    SCOPED
    + """
from django.test import Client
from shopwarranty.warranty.models import SigningKey
with shop_scope(shop):
    rows = list(Certificate.objects.order_by("pk"))
    keys = list(SigningKey.objects.order_by("pk").values_list("certificate_pem", flat=True))
pages = [Client(HTTP_HOST="localhost").get(f"/certificate/{row.number}/{row.code}/") for row in rows]
out.write(json.dumps({
    "papers": [row.pdf_sha256 for row in rows],
    "keys": keys,
    "pages": [f"{page.status_code} {page.content.decode()}" for page in pages],
}))
""",
)


@pytest.fixture(scope="module")
def shop(new_home: Callable[[], Home]) -> Home:
    """A shop with a job, a certificate and a mail that waits."""
    home = new_home()
    more = {"vin": "0DEMXWRA1TF000123", "vin_kind": "vin", "holder": "A. Example"}
    holder = {"holder_email": "holder@example.com", "holder_address": "9 Sample Street"}
    (home.folder / "in.csv").write_text(table([a_row(**more, **holder)]))
    (home.folder / "phrase").write_text(PHRASE + "\n")
    owner = ("--owner", "owner@harrow.example", "--legal-profile", "other")
    home.run(
        ("migrate", "-v0"),
        ("add_shop", "--slug", "harrow", "--name", "Harrow Street Film", *owner),
        ("import_jobs", "--shop", "harrow", home.file("in.csv")),
        COMPLETE,
        ("issue_certificate", "--shop", "harrow", "--job", "P-1", "--pdf", home.file("c.pdf"), "--no-mail"),
        home.export(),
        ("backup", "--out", home.file("plain.backup")),
        ("backup", "--out", home.file("sealed.backup"), "--with-keys", *phrase(home)),
    )
    return home


def phrase(home: Home) -> tuple[str, str]:
    return ("--pass-phrase-file", home.file("phrase"))


@dataclass(frozen=True, slots=True)
class Restored:
    home: Home
    said: str
    again: Said
    asked: dict[str, Any]


@pytest.fixture(scope="module")
def restored(shop: Home, new_home: Callable[[], Home]) -> Restored:
    there = new_home()
    restore = ("restore", shop.file("sealed.backup"), *phrase(shop))
    first, _export, _tick, asked, again = there.try_to(restore, there.export(), ("tick",), ASK, restore)
    assert first.code == 0, first.err
    return Restored(there, first.out, again, json.loads(asked.out))


def test_restored_elsewhere_it_exports_the_same_and_its_certificates_verify(
    shop: Home, restored: Restored
) -> None:
    assert "1 certificates checked, 0 do not agree." in restored.said
    assert restored.home.exported() == shop.exported()
    key = (restored.home.folder / "secret_key").read_text()
    assert key == (shop.folder / "secret_key").read_text()


def certificates_of(home: Home) -> dict[str, Any]:
    """DEBUG: here no style sheets were collected for the page to name."""
    (said,) = home.with_settings(SHOPWARRANTY_DEBUG="1").run(CERTIFICATES)
    told: dict[str, Any] = json.loads(said)
    return {**told, "pages": [SECRET_FIELD.sub("", page) for page in told["pages"]]}


def papers_in(home: Home) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in (home.folder / "media").rglob("*") if path.is_file()}


def test_restored_its_papers_are_the_same_to_the_byte_and_their_signatures_are_sound(
    shop: Home, restored: Restored
) -> None:
    """Signatures by ETSI EN 319 142-1, verified against the key that the restored database names."""
    told, papers = certificates_of(restored.home), papers_in(restored.home)
    assert papers == papers_in(shop)
    assert told["papers"] and set(told["papers"]) <= set(papers)
    keys = [x509.Certificate.load(pem.unarmor(key.encode())[2]) for key in told["keys"]]
    for name in told["papers"]:
        assert hashlib.sha256(papers[name]).hexdigest() == name
        assert is_signed_by(keys, papers[name])
        changed = papers[name].replace(b"%PDF-1.7", b"%PDF-1.6", 1)
        assert changed != papers[name] and not is_signed_by(keys, changed)


def is_signed_by(keys: list[x509.Certificate], content: bytes) -> bool:
    (signature,) = PdfFileReader(io.BytesIO(content)).embedded_signatures
    status = validate_pdf_signature(signature, ValidationContext(trust_roots=keys, allow_fetching=False))
    return bool(status.bottom_line) and status.coverage == SignatureCoverageLevel.ENTIRE_FILE


def test_restored_the_public_page_says_what_it_said_before(shop: Home, restored: Restored) -> None:
    before, after = certificates_of(shop), certificates_of(restored.home)
    assert after["pages"] == before["pages"]
    assert [page[:3] for page in after["pages"]] == ["200"]
    assert "<h1>Genuine" in after["pages"][0]


def test_without_the_keys_a_restored_one_makes_its_own_and_its_papers_are_as_good(
    shop: Home, new_home: Callable[[], Home]
) -> None:
    there = new_home()
    said, _export = there.run(("restore", shop.file("plain.backup")), there.export())
    assert "1 certificates checked, 0 do not agree." in said
    assert there.exported() == shop.exported()
    assert (there.folder / "secret_key").read_text() != (shop.folder / "secret_key").read_text()
    assert certificates_of(there) == certificates_of(shop)


@pytest.fixture(scope="module")
def store() -> Iterator[S3Server]:
    with s3_server() as running:
        yield running


def test_a_backup_goes_from_a_disk_into_a_store_and_from_there_to_a_disk(
    shop: Home, store: S3Server, new_home: Callable[[], Home]
) -> None:
    in_s3, on_disk = new_home().with_settings(**store.variables), new_home()
    again = in_s3.file("again.backup")
    in_s3.run(("restore", shop.file("plain.backup")), in_s3.export(), ("backup", "--out", again))
    assert not (in_s3.folder / "media").exists()
    assert set(map(hash_of, store.objects().values())) == set(papers_in(shop))
    on_disk.run(("restore", again), on_disk.export())
    assert shop.exported() == in_s3.exported() == on_disk.exported()
    assert papers_in(on_disk) == papers_in(shop)
    away = in_s3.with_settings(SHOPWARRANTY_S3_ENDPOINT="http://127.0.0.1:1")
    (said,) = away.try_to(("backup", "--out", in_s3.file("no.backup")))
    assert (said.code, "The store of files" in said.err, "No backup was made" in said.err) == (2, True, True)
    assert not (in_s3.folder / "no.backup").exists()


def hash_of(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def test_a_restore_over_shops_is_refused(restored: Restored) -> None:
    assert restored.again.code == 2
    assert "There are shops here already (harrow)" in restored.again.err


def test_e95_numbers_issued_after_the_backup_are_never_used_again(shop: Home, restored: Restored) -> None:
    later = {json.loads(said)["next"] for said in shop.run(ASK, ASK, ASK)}
    assert len(later) == 3
    assert restored.asked["next"] not in later | set(restored.asked["issued"])
    assert restored.asked["next"].split("-")[1].endswith("B")


def test_a_mail_that_waited_is_not_sent_a_second_time_by_the_restored_one(restored: Restored) -> None:
    assert "waiting messages are parked" in restored.said
    assert restored.asked["messages"]["waits"] == "parked"
    sent = [path.read_text() for path in (restored.home.folder / "mail").glob("*")]
    assert not any("Subject: Soon" in mail for mail in sent)


def test_a_backup_that_was_changed_anywhere_is_refused_and_nothing_is_written(
    shop: Home, new_home: Callable[[], Home]
) -> None:
    """A byte of each entry's contents is flipped, one entry at a time; then the file is cut short."""
    there, whole = new_home(), (shop.folder / "plain.backup").read_bytes()
    with pyzipper.AESZipFile(io.BytesIO(whole)) as opened:
        middles = [entry.header_offset + 60 + entry.compress_size // 2 for entry in opened.infolist()]
    wrong = [whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :] for at in middles] + [
        whole[: len(whole) // 2]
    ]
    commands = []
    for number, content in enumerate(wrong):
        path = shop.folder / f"broken-{number}.backup"
        path.write_bytes(content)
        commands.append(("restore", str(path)))
    said = there.try_to(*commands)
    assert [each.code for each in said] == [2] * len(wrong), said[0].err
    assert all("Nothing was changed" in each.err for each in said)
    assert not (there.folder / "media").exists()


def test_without_its_pass_phrase_a_backup_says_nothing(shop: Home, new_home: Callable[[], Home]) -> None:
    path = shop.folder / "sealed.backup"
    with pyzipper.AESZipFile(path) as sealed:
        assert all(entry.flag_bits & 1 for entry in sealed.infolist())
    assert b"holder@example.com" not in path.read_bytes()
    (said,) = new_home().try_to(("restore", str(path)))
    assert (said.code, "pass phrase" in said.err) == (2, True)


def test_a_plain_backup_opens_with_any_program(shop: Home) -> None:
    """ZIP, APPNOTE 6.3: read by Python's own zipfile, and the copy by the database's own program."""
    folder = shop.folder / "opened"
    shutil.unpack_archive(shop.folder / "plain.backup", folder, "zip")
    manifest = json.loads((folder / "manifest.json").read_text())
    assert (manifest["engine"], manifest["rows"]["jobs_job"]) == (connection.vendor, 1)
    if connection.vendor == "sqlite":
        with closing(sqlite3.connect(folder / "database")) as database:
            assert database.execute("SELECT count(*) FROM jobs_job").fetchone() == (1,)
    else:
        assert (folder / "database").read_bytes().startswith(b"PGDMP")


def test_a_damaged_file_is_named_and_the_rest_is_kept(shop: Home) -> None:
    pdf = next(path for path in sorted((shop.folder / "media").rglob("*")) if path.is_file())
    content = pdf.read_bytes()
    try:
        pdf.write_bytes(content + b"x")
        (said,) = shop.try_to(("backup", "--out", shop.file("damaged.backup")))
    finally:
        pdf.write_bytes(content)
    assert (said.code, pdf.name in said.err) == (1, True)
    assert (shop.folder / "damaged.backup").exists()


def test_what_cannot_be_made_is_said_and_leaves_nothing_behind(shop: Home) -> None:
    """/dev/full answers every write with "no space left on device"."""
    full = shop.folder / "full"
    full.mkdir()
    (full / ".whole.backup.part").symlink_to("/dev/full")
    there = ("backup", "--out", shop.file("plain.backup"))
    no_phrase = ("backup", "--out", shop.file("no"), "--with-keys")
    said = shop.try_to(("backup", "--out", str(full / "whole.backup")), no_phrase, there)
    assert [each.code for each in said] == [2, 2, 2]
    assert "No backup was made" in said[0].err
    assert "pass phrase" in said[1].err
    assert "is there already" in said[2].err
    assert list(full.iterdir()) == []
    assert not (shop.folder / "no").exists()


def test_the_oldest_are_thrown_away(shop: Home) -> None:
    folder = shop.folder / "many"
    folder.mkdir()
    for day in (1, 2, 3):
        (folder / f"shopwarranty-2026-11-0{day}-000000.backup").write_bytes(b"old")
    (folder / "notes.txt").write_text("mine")
    shop.run(("backup", "--into", str(folder), "--keep", "2"))
    names = sorted(path.name for path in folder.iterdir())
    assert names[:2] == ["notes.txt", "shopwarranty-2026-11-03-000000.backup"]
    assert len(names) == 3
