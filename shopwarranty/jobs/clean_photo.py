"""From whatever somebody sends to a photo that is safe to keep and to serve. Pure: bytes in, clean bytes out.

Only JPEG, PNG, WebP and HEIC are tried. The picture is decoded fully, turned as its EXIF says, brought to
sRGB, pasted into a fresh image and written anew as JPEG, so that no metadata, thumbnail, comment, second
frame or appended file survives. EXIF: CIPA DC-008 (Exif 3.0), Orientation 0x0112, DateTimeOriginal 0x9003.
"""

import hashlib
import io
import warnings
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import pillow_heif
from PIL import Image, ImageCms, ImageFile, ImageOps, UnidentifiedImageError

pillow_heif.register_heif_opener(thumbnails=False)

FORMATS: Final = ("JPEG", "PNG", "WEBP", "HEIF")
LONGEST: Final = 2560
THUMBNAIL: Final = 320
DATE_TIME_ORIGINAL, OFFSET_TIME_ORIGINAL, EXIF_POINTER = 0x9003, 0x9011, 0x8769
SRGB: Final = ImageCms.createProfile("sRGB")


class PhotoRefused(Exception):
    """What was sent cannot be kept as a photo. `reason` is one of REASONS."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


REASONS: Final = ("empty", "too_many_bytes", "not_a_photo", "too_many_pixels", "damaged")


@dataclass(frozen=True, slots=True)
class CleanPhoto:
    """`taken_at`: the camera's own clock, aware when it wrote its offset; None when it said nothing."""

    content: bytes
    width: int
    height: int
    original_sha256: str
    taken_at: datetime | None


def clean_photo(sent: bytes, *, max_bytes: int, max_pixels: int) -> CleanPhoto:
    """Raises PhotoRefused. Memory is bounded by `max_pixels`: the size is read before anything is decoded."""
    if not sent:
        raise PhotoRefused("empty")
    if len(sent) > max_bytes:
        raise PhotoRefused("too_many_bytes")
    with warnings.catch_warnings():
        warnings.simplefilter(
            "ignore"
        )  # Pillow warns of odd EXIF and of large pictures; both are handled here
        picture, taken_at = decoded(sent, max_pixels)
    width, height = fitted(picture.size, LONGEST)
    content = as_jpeg(picture, LONGEST, 85)
    return CleanPhoto(content, width, height, hashlib.sha256(sent).hexdigest(), taken_at)


def thumbnail_of(clean: bytes) -> bytes:
    """A small JPEG of bytes that `clean_photo` made."""
    with Image.open(io.BytesIO(clean), formats=("JPEG",)) as opened:
        opened.draft("RGB", (THUMBNAIL, THUMBNAIL))
        return as_jpeg(opened.convert("RGB"), THUMBNAIL, 75)


def decoded(sent: bytes, max_pixels: int) -> tuple[Image.Image, datetime | None]:
    """The first frame in sRGB, the right way up, and when the camera says it was taken."""
    # The library that makes PDFs turns this on for the whole process; a photo cut short would pass as whole.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    try:
        with Image.open(io.BytesIO(sent), formats=FORMATS) as opened:
            if opened.width * opened.height > max_pixels:
                raise PhotoRefused("too_many_pixels")
            if opened.format == "JPEG":
                opened.draft("RGB", (LONGEST, LONGEST))
            opened.load()
            taken_at = camera_time(opened)
            shrink(opened)
            turned = ImageOps.exif_transpose(opened)
            return in_srgb(turned), taken_at
    except PhotoRefused:
        raise
    except UnidentifiedImageError as error:
        raise PhotoRefused("not_a_photo") from error
    except Image.DecompressionBombError as error:
        raise PhotoRefused("too_many_pixels") from error
    except Exception as error:  # decoders raise almost anything on damaged input
        raise PhotoRefused("damaged") from error


def shrink(picture: Image.Image) -> None:
    """Before anything is copied: a picture of 80 million pixels takes 240 MB for every copy."""
    if picture.mode in ("RGB", "RGBA", "L", "LA", "CMYK") and max(picture.size) > LONGEST:
        picture.thumbnail((LONGEST, LONGEST), Image.Resampling.LANCZOS, reducing_gap=2.0)


def in_srgb(picture: Image.Image) -> Image.Image:
    """On white where it was transparent, in the colours a browser shows."""
    profile = picture.info.get("icc_profile")
    if profile and picture.mode in ("RGB", "CMYK", "L"):
        picture = converted(picture, profile)
    if picture.mode in ("RGBA", "LA", "PA") or "transparency" in picture.info:
        layered = picture.convert("RGBA")
        flat = Image.new("RGB", picture.size, "white")
        flat.paste(layered, mask=layered.getchannel("A"))
        return flat
    if picture.mode.startswith("I"):
        picture = picture.point(lambda level: level / 256).convert("L")
    fresh = Image.new("RGB", picture.size)
    fresh.paste(picture.convert("RGB"))
    return fresh


def converted(picture: Image.Image, profile: bytes) -> Image.Image:
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        done = ImageCms.profileToProfile(picture, source, SRGB, outputMode="RGB")
        return done or picture
    except (ImageCms.PyCMSError, OSError, ValueError):
        return picture


def fitted(size: tuple[int, int], longest: int) -> tuple[int, int]:
    scale = min(1.0, longest / max(size))
    return max(1, round(size[0] * scale)), max(1, round(size[1] * scale))


def as_jpeg(picture: Image.Image, longest: int, quality: int) -> bytes:
    out = io.BytesIO()
    size = fitted(picture.size, longest)
    fresh = picture.resize(size, Image.Resampling.LANCZOS) if size != picture.size else picture
    fresh.save(out, "JPEG", quality=quality, optimize=True)
    return out.getvalue()


def camera_time(picture: Image.Image) -> datetime | None:
    """DateTimeOriginal with its offset where the camera wrote one. Anything odd counts as "said nothing"."""
    try:
        details = picture.getexif().get_ifd(EXIF_POINTER)
        text, offset = str(details.get(DATE_TIME_ORIGINAL, "")), str(details.get(OFFSET_TIME_ORIGINAL, ""))
        moment = datetime.strptime(text.strip("\0 "), "%Y:%m:%d %H:%M:%S")  # noqa: DTZ007 (offset follows)
        return datetime.fromisoformat(f"{moment.isoformat()}{offset.strip()}") if offset.strip() else moment
    except Exception:
        return None
