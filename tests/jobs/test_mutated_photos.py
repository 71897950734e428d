"""A thousand files as nobody should send them: each is kept clean or refused by name, never anything else.

Here the first hundred; the rest by `.ci/long photos`. What is served is read by Debian's exiftool.
"""

import io
import json
import os
import re
import shutil
import subprocess
import sys
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from shopwarranty.jobs.models import Job, Photo
from shopwarranty.jobs.photos import make_thumbnails
from shopwarranty.shops import stored_bytes
from tests.conftest import NOW

from .conftest import Bench
from .mutated_photos import HIDDEN, SECRET, mutated_photos

SEED = int(os.environ.get("MUTATED_PHOTOS_SEED", "20261125"))
COUNT = int(os.environ.get("MUTATED_PHOTOS", "100"))
MOST_MEGABYTES = 600
# What exiftool says of the file itself and of the JFIF header that every JPEG of ours has.
OWN_GROUPS = {"SourceFile", "ExifTool", "System", "File", "JFIF", "Composite"}


@pytest.fixture
def job(bench: Bench) -> Job:
    return bench.front(("bonnet",))


@pytest.fixture
def client(bench: Bench) -> Client:
    return bench.people.client(bench.people.installer)


@dataclass(slots=True)
class Sent:
    outcomes: Counter[str] = field(default_factory=Counter)
    peak_mb: int = 0
    grown_mb: int = 0  # the most that one request added to what the process held before it


def forget_peak() -> int:
    """What the process holds now. Linux tells; elsewhere the memory is not measured."""
    Path("/proc/self/clear_refs").write_text("5")
    return peak_megabytes()


def peak_megabytes() -> int:
    found = re.search(r"VmHWM:\s+(\d+) kB", Path("/proc/self/status").read_text())
    assert found
    return int(found[1]) // 1024


def send_all(client: Client, job: Job, count: int) -> Sent:
    address, sent = reverse("job-photos", args=["kiln", job.pk]), Sent()
    for number, (kind, content) in enumerate(mutated_photos(SEED, count)):
        file = SimpleUploadedFile(f"{number}.jpg", content, content_type="image/jpeg")
        before = forget_peak() if sys.platform == "linux" else 0
        answer = client.post(address, {"photos": [file]}, headers={"accept": "application/json"})
        if sys.platform == "linux":
            sent.peak_mb = max(sent.peak_mb, peak_megabytes())
            sent.grown_mb = max(sent.grown_mb, peak_megabytes() - before)
        assert answer.status_code in (200, 422), (number, kind, answer.status_code)
        sent.outcomes[f"{kind}: {'kept' if answer.status_code == 200 else 'refused'}"] += 1
    return sent


def served(client: Client, folder: Path) -> list[Path]:
    """Every stored photo in both sizes, fetched as a browser does."""
    paths = []
    for photo in Photo.objects.all():
        for size in ("full", "small"):
            answer = client.get(reverse("photo", args=["kiln", photo.pk, size]))
            assert answer["Content-Type"] == "image/jpeg"
            path = folder / f"{photo.pk}-{size}.jpg"
            path.write_bytes(answer.content)
            paths.append(path)
    return paths


def said_by_exiftool(folder: Path) -> list[dict[str, Any]]:
    if not shutil.which("exiftool"):
        pytest.skip("no exiftool on this machine: python3 manage.py test --setup-only")
    ask = ["exiftool", "-json", "-G1", "-a", "-u", "-ee", "-r", str(folder)]
    done = subprocess.run(ask, capture_output=True, text=True, check=True)
    return list(json.loads(done.stdout))


def test_e86_mutated_photos_are_kept_clean_or_refused_in_bounded_memory(
    client: Client, job: Job, tmp_path: Path, capsys: Any
) -> None:
    sent = send_all(client, job, COUNT)
    outcomes = sent.outcomes
    with capsys.disabled():
        print(f"\nphotos={COUNT}; seed={SEED}; peak_mb={sent.peak_mb}; grown_mb={sent.grown_mb}")
        print(dict(sorted(outcomes.items())))
    assert sent.grown_mb < MOST_MEGABYTES
    assert sum(outcomes.values()) == COUNT
    assert outcomes["plain: refused"] == outcomes["exif: refused"] == outcomes["bomb: kept"] == 0
    assert outcomes["truncated: refused"] > 0
    kept = sum(n for name, n in outcomes.items() if name.endswith("kept"))
    make_thumbnails(NOW)
    paths = served(client, tmp_path)
    assert len(paths) == 2 * kept
    for path in paths:
        only_a_picture(path.read_bytes())
    exiftool_finds_nothing(tmp_path, len(paths))


def only_a_picture(content: bytes) -> None:
    with Image.open(io.BytesIO(content), formats=["JPEG"]) as image:
        image.load()
        assert image.mode == "RGB"
        assert max(image.size) <= 2560
    assert content.endswith(b"\xff\xd9")  # end of image: nothing comes after it
    for hidden in (HIDDEN[:8], b"<?php", b"PK\x03\x04", SECRET.encode()):
        assert hidden not in content


def exiftool_finds_nothing(folder: Path, files: int) -> None:
    """No group of tags but those of the file itself: no EXIF, no place, no comment, no small picture."""
    said = said_by_exiftool(folder)
    assert len(said) == files
    for one in said:
        foreign = {name for name in one if name.split(":")[0] not in OWN_GROUPS}
        assert not foreign, (one["SourceFile"], foreign)
        assert not any("comment" in name.lower() or "thumbnail" in name.lower() for name in one)


def test_e85_exiftool_finds_no_place_comment_or_small_picture_in_a_marked_copy(
    client: Client, job: Job, tmp_path: Path
) -> None:
    send_all(client, job, 2)
    photo = Photo.objects.latest("pk")
    form = {"act": "keep", "marks": '[{"kind": "blur", "x1": 0.1, "y1": 0.1, "x2": 0.9, "y2": 0.9}]'}
    client.post(reverse("mark-photo", args=["kiln", photo.pk]), form)
    assert Photo.objects.filter(marked_from__isnull=False).count() == 1
    make_thumbnails(NOW)
    exiftool_finds_nothing(tmp_path, len(served(client, tmp_path)))


def test_exiftool_would_have_found_it(tmp_path: Path) -> None:
    """The reading of what is served means something only if the tool finds it in what was sent."""
    found: set[str] = set()
    for number, (kind, content) in enumerate(mutated_photos(SEED, 40)):
        if kind == "exif":
            (tmp_path / f"{number}.jpg").write_bytes(content)
    for one in said_by_exiftool(tmp_path):
        found |= {name.split(":")[0] for name in one}
    assert "GPS" in found


def test_every_stored_file_is_named_by_its_hash(client: Client, job: Job) -> None:
    for _kind, content in mutated_photos(SEED + 1, 13):
        file = SimpleUploadedFile("a.jpg", content)
        client.post(reverse("job-photos", args=["kiln", job.pk]), {"photos": [file]})
    assert Photo.objects.exists()
    for photo in Photo.objects.all():
        assert len(stored_bytes.read(photo.sha256)) == photo.length
