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
BAND: Final = 64  # rows of the smaller picture worked on at once
KEEP_PROFILE: Final = ("RGB", "CMYK", "L")  # colours that a profile speaks of
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
            turned = ImageOps.exif_transpose(shrink(opened))
            return in_srgb(turned), taken_at
    except PhotoRefused:
        raise
    except UnidentifiedImageError as error:
        raise PhotoRefused("not_a_photo") from error
    except Image.DecompressionBombError as error:
        raise PhotoRefused("too_many_pixels") from error
    except Exception as error:  # decoders raise almost anything on damaged input
        raise PhotoRefused("damaged") from error


def shrink(picture: Image.Image) -> Image.Image:
    """Smaller by a whole factor before anything is copied, band by band.

    Eighty million pixels with transparency take 320 MB, and as much again for every copy.
    """
    factor = max(picture.size) // LONGEST
    if factor < 2:
        return picture
    mode = picture.mode if picture.mode in KEEP_PROFILE else "RGB"
    small = Image.new(mode, (-(-picture.width // factor), -(-picture.height // factor)))
    for top in range(0, picture.height, factor * BAND):
        band = picture.crop((0, top, picture.width, min(top + factor * BAND, picture.height)))
        kept = band if band.mode in KEEP_PROFILE else flattened(band)
        small.paste(kept.reduce(factor), (0, top // factor))
    small.info = {name: value for name, value in picture.info.items() if name != "transparency"}
    return small


def in_srgb(picture: Image.Image) -> Image.Image:
    """On white where it was transparent, in the colours a browser shows."""
    profile = picture.info.get("icc_profile")
    if profile and picture.mode in KEEP_PROFILE:
        picture = converted(picture, profile)
    return flattened(picture)


def flattened(picture: Image.Image) -> Image.Image:
    """RGB in a fresh image; on white where it was transparent."""
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
