"""Whatever somebody sends becomes a plain JPEG or a refusal with its reason. Made pictures only."""

import hashlib
import io
import random
import struct
import zlib
from datetime import datetime, timedelta, timezone
from typing import Any

import pytest
from PIL import Image, ImageFile, PngImagePlugin

from shopwarranty.jobs.clean_photo import REASONS, PhotoRefused, clean_photo, thumbnail_of

MB = 1024 * 1024


def clean(sent: bytes, *, max_bytes: int = 10 * MB, max_pixels: int = 4_000_000) -> Any:
    return clean_photo(sent, max_bytes=max_bytes, max_pixels=max_pixels)


def picture(mode: str = "RGB", size: tuple[int, int] = (60, 40), colour: Any = None) -> Image.Image:
    return Image.new(mode, size, colour if colour is not None else ((200, 30, 30) if mode == "RGB" else 0))


def saved(image: Image.Image, kind: str = "JPEG", **more: Any) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def with_exif(**tags: Any) -> bytes:
    exif = Image.Exif()
    if orientation := tags.get("orientation"):
        exif[0x0112] = orientation
    details = exif.get_ifd(0x8769)
    if taken := tags.get("taken"):
        details[0x9003] = taken
    if offset := tags.get("offset"):
        details[0x9011] = offset
    exif[0x010F] = "Camera with a serial number"
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2] = "N", (40.0, 44.0, 0.0)
    return saved(picture(), exif=exif, comment=b"driveway of A. Example")


def reason_of(sent: bytes, **more: Any) -> str:
    with pytest.raises(PhotoRefused) as refused:
        clean(sent, **more)
    return refused.value.reason


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_the_four_formats_become_jpeg(kind: str) -> None:
    done = clean(saved(picture(size=(64, 64)), kind))
    with Image.open(io.BytesIO(done.content)) as image:
        assert (image.format, image.mode, image.size) == ("JPEG", "RGB", (64, 64))


def test_e85_location_comment_and_camera_are_gone() -> None:
    done = clean(with_exif(taken="2026:11:25 09:00:00"))
    for content in (done.content, thumbnail_of(done.content)):
        with Image.open(io.BytesIO(content)) as image:
            assert not image.getexif()
            assert "comment" not in image.info
        assert b"Exif" not in content and b"driveway" not in content and b"serial" not in content


def test_e86_a_picture_lying_on_its_side_is_turned_before_the_tag_is_dropped() -> None:
    """Orientation 6: the 0th row is the visual right-hand side (Exif, tag 0x0112)."""
    done = clean(with_exif(orientation=6))
    assert (done.width, done.height) == (40, 60)


def test_e84_the_cameras_time_is_read_with_its_offset_or_as_local_and_nothing_is_invented() -> None:
    assert clean(with_exif(taken="2026:11:25 09:00:00")).taken_at == datetime(2026, 11, 25, 9)  # noqa: DTZ001
    aware = clean(with_exif(taken="2026:11:25 09:00:00", offset="-05:00")).taken_at
    assert aware == datetime(2026, 11, 25, 9, tzinfo=timezone(timedelta(hours=-5)))
    assert clean(saved(picture())).taken_at is None
    assert clean(with_exif(taken="yesterday")).taken_at is None


def test_a_large_picture_is_scaled_and_one_with_too_many_pixels_refused_before_decoding() -> None:
    done = clean(saved(picture(size=(3000, 1000))))
    assert (done.width, done.height) == (2560, 853)
    assert reason_of(saved(picture(size=(3000, 1000))), max_pixels=2_000_000) == "too_many_pixels"


def test_a_small_file_that_claims_to_be_huge_is_refused_by_its_header() -> None:
    bomb = bytearray(saved(picture("1", (8, 8)), "PNG"))
    bomb[16:24] = struct.pack(">II", 60000, 60000)
    bomb[29:33] = struct.pack(">I", zlib.crc32(bomb[12:29]))  # checksum: ISO/IEC 15948, 5.3
    assert reason_of(bytes(bomb)) == "too_many_pixels"


def test_modes_a_phone_or_scanner_may_send_all_become_rgb() -> None:
    for image, kind in (
        (picture("CMYK"), "JPEG"),
        (picture("L"), "PNG"),
        (picture("I;16"), "PNG"),
        (picture("P"), "PNG"),
        (picture("RGBA", colour=(10, 20, 30, 0)), "PNG"),
        (picture("LA", colour=(10, 0)), "PNG"),
    ):
        with Image.open(io.BytesIO(clean(saved(image, kind)).content)) as done:
            assert done.mode == "RGB", image.mode


def test_what_is_transparent_lies_on_white() -> None:
    done = clean(saved(picture("RGBA", colour=(0, 0, 0, 0)), "PNG"))
    with Image.open(io.BytesIO(done.content)) as image:
        corner = image.getpixel((5, 5))
        assert isinstance(corner, tuple)
        assert min(corner) > 250


def test_only_the_first_frame_of_something_moving_is_kept() -> None:
    frames = [picture(colour=(n * 80, 0, 0)) for n in range(3)]
    sent = saved(frames[0], "WEBP", save_all=True, append_images=frames[1:])
    with Image.open(io.BytesIO(clean(sent).content)) as image:
        assert getattr(image, "n_frames", 1) == 1


@pytest.mark.parametrize("kind", ["GIF", "BMP", "TIFF", "PDF", "EPS", "ICO"])
def test_other_formats_are_not_tried(kind: str) -> None:
    assert reason_of(saved(picture(), kind)) == "not_a_photo"


def test_text_empty_and_oversized_files_are_named_for_what_they_are() -> None:
    assert reason_of(b"") == "empty"
    assert reason_of(b"<svg xmlns='http://www.w3.org/2000/svg'/>") == "not_a_photo"
    assert reason_of(saved(picture()), max_bytes=10) == "too_many_bytes"


def test_a_photo_cut_short_is_refused_though_making_pdfs_tolerates_them(monkeypatch: Any) -> None:
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
    whole = saved(Image.effect_noise((400, 300), 90).convert("RGB"))
    assert reason_of(whole[: len(whole) // 2]) == "damaged"


def test_a_truncated_photo_is_refused_as_damaged() -> None:
    whole = saved(Image.effect_noise((400, 300), 90).convert("RGB"))
    assert reason_of(whole[: len(whole) // 2]) == "damaged"


def test_what_is_hidden_behind_a_photo_does_not_survive() -> None:
    script = b"<script>alert(1)</script>PK\x03\x04"
    chunks = PngImagePlugin.PngInfo()
    chunks.add_text("note", "x" * 100_000 + "<script>")
    for sent in (saved(picture()) + script, saved(picture(), "PNG", pnginfo=chunks)):
        done = clean(sent)
        assert b"<script>" not in done.content + thumbnail_of(done.content)
        assert b"PK\x03\x04" not in done.content


def test_the_same_photo_gives_the_same_bytes() -> None:
    sent = with_exif(orientation=3)
    assert clean(sent).content == clean(sent).content


def test_mutated_photos_are_kept_clean_or_refused_and_never_anything_else() -> None:
    draw = random.Random(20261125)
    noise = Image.effect_noise((120, 90), 60).convert("RGB")
    seeds = [saved(noise, kind) for kind in ("JPEG", "PNG", "WEBP", "HEIF")] + [with_exif(orientation=8)]
    outcomes = {"kept": 0, "refused": 0}
    for _round in range(100):
        sent = bytearray(draw.choice(seeds))
        for _change in range(draw.randint(1, 30)):
            sent[draw.randrange(len(sent))] = draw.randrange(256)
        if draw.random() < 0.3:
            del sent[draw.randrange(len(sent)) :]
        try:
            done = clean(bytes(sent))
        except PhotoRefused as refused:
            assert refused.reason in REASONS  # noqa: PT017 (either outcome is fine, once)
            outcomes["refused"] += 1
            continue
        with Image.open(io.BytesIO(done.content), formats=["JPEG"]) as image:
            image.load()
            assert not image.getexif()
        outcomes["kept"] += 1
    assert min(outcomes.values()) > 5, outcomes


@pytest.mark.parametrize("mode", ["RGB", "RGBA", "P", "L", "I;16", "CMYK"])
def test_a_very_large_picture_is_made_smaller_in_bands_that_fit_each_other(mode: str) -> None:
    """Red above, blue below: the same in the small one, whatever the mode."""
    wide, high = 5200, 1300
    image = Image.new("RGB", (wide, high), (200, 20, 20))
    image.paste((20, 20, 200), (0, 700, wide, high))
    kind = "JPEG" if mode == "CMYK" else "PNG"
    sent = Image.new("I;16", (wide, high), 40_000) if mode == "I;16" else image.convert(mode)
    done = clean(saved(sent, kind), max_pixels=10_000_000)
    assert max(done.width, done.height) <= 2560
    with Image.open(io.BytesIO(done.content)) as small:
        above, below = small.getpixel((50, 10)), small.getpixel((50, done.height - 10))
        edge = small.getpixel((done.width - 2, done.height - 2))
    assert isinstance(above, tuple)
    assert isinstance(below, tuple)
    assert isinstance(edge, tuple)
    assert min(edge) < 250  # no white or black rim where the last band ends
    if mode not in ("L", "I;16"):
        assert above[0] > above[2] + 80
        assert below[2] > below[0] + 80
    if mode == "I;16":
        assert abs(above[0] - 40_000 // 256) < 4


def test_a_large_picture_lying_on_its_side_is_turned_after_it_was_made_smaller() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6
    sent = saved(picture(size=(5200, 1300)), "PNG", exif=exif)
    done = clean(sent, max_pixels=10_000_000)
    assert done.height > done.width


def test_e86_what_was_sent_keeps_its_own_hash_beside_the_cleaned_picture() -> None:
    sent = with_exif(orientation=6)
    done = clean(sent)
    assert done.original_sha256 == hashlib.sha256(sent).hexdigest()
    assert hashlib.sha256(done.content).hexdigest() != done.original_sha256
