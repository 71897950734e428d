"""Files as nobody should send them, made from a seed. The pictures in them are drawn."""

import io
import random
import struct
import zlib
from collections.abc import Callable, Iterator
from typing import Final

from PIL import Image, PngImagePlugin

HIDDEN: Final = b"<script>alert(1)</script><?php system($_GET[0]); ?>PK\x03\x04"
SECRET: Final = "driveway of A. Example"
Make = Callable[[random.Random], bytes]


def drawn(draw: random.Random, mode: str = "RGB") -> Image.Image:
    size = (draw.randint(8, 160), draw.randint(8, 160))
    noise = Image.effect_noise(size, draw.randint(5, 90))
    return noise.convert("RGB").convert(mode) if mode != "I;16" else Image.new("I;16", size, 40_000)


def saved(image: Image.Image, kind: str, **more: object) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def plain(draw: random.Random) -> bytes:
    return saved(drawn(draw), draw.choice(["JPEG", "PNG", "WEBP", "HEIF"]))


def with_exif(draw: random.Random) -> bytes:
    """A place on the map, a serial number, a comment, a small picture inside, and times that cannot be."""
    exif = Image.Exif()
    exif[0x0112] = draw.choice([0, 1, 3, 6, 8, 9, 255])
    exif[0x010F], exif[0x010E] = "Camera 12345", SECRET
    details, gps = exif.get_ifd(0x8769), exif.get_ifd(0x8825)
    details[0x9003] = draw.choice(
        [
            "2026:11:25 09:00:00",
            "0000:00:00 00:00:00",
            "9999:99:99 99:99:99",
            "",
            "x" * 500,
            "2038:01:20 00:00:00",
        ]
    )
    details[0x9011] = draw.choice(["+99:99", "-05:00", "Z", "", "now"])
    details[0x9286] = SECRET
    gps[1], gps[3] = "N", "E"
    gps[2] = gps[4] = draw.choice([(0.0, 0.0, 0.0), (40.0, 44.0, 0.5), (999.0, 999.0, 999.0)])
    kind = draw.choice(["JPEG", "PNG", "WEBP", "HEIF"])
    more = {"comment": SECRET.encode()} if kind == "JPEG" else {}
    return saved(drawn(draw), kind, exif=exif, **more)


def wild_exif(draw: random.Random) -> bytes:
    """The bytes behind the marker are noise that calls itself EXIF."""
    noise = b"Exif\0\0" + bytes(draw.randrange(256) for _each in range(draw.randint(1, 900)))
    whole = saved(drawn(draw), "JPEG")
    return whole[:2] + b"\xff\xe1" + struct.pack(">H", len(noise) + 2) + noise + whole[2:]


def noisy(draw: random.Random) -> bytes:
    sent = bytearray(draw.choice([plain, with_exif])(draw))
    for _change in range(draw.randint(1, 40)):
        sent[draw.randrange(len(sent))] = draw.randrange(256)
    return bytes(sent)


def truncated(draw: random.Random) -> bytes:
    sent = plain(draw)
    return sent[: draw.randrange(len(sent))]


def bomb(draw: random.Random) -> bytes:
    """A few hundred bytes whose header claims thousands of millions of pixels (ISO/IEC 15948, 11.2.2)."""
    sent = bytearray(saved(Image.new("1", (8, 8)), "PNG"))
    sent[16:24] = struct.pack(">II", draw.randint(10_000, 2**31 - 1), draw.randint(10_000, 2**31 - 1))
    sent[29:33] = struct.pack(">I", zlib.crc32(bytes(sent[12:29])))
    return bytes(sent)


def large(draw: random.Random) -> bytes:
    """Really that many pixels, packed into a small file: just below what is allowed, or above it."""
    wide = draw.choice([6000, 8800, 9500])
    kind, mode = draw.choice([("PNG", "RGB"), ("PNG", "RGBA"), ("PNG", "L"), ("JPEG", "RGB"), ("PNG", "P")])
    return saved(Image.new(mode, (wide, 8900)), kind, **({"compress_level": 1} if kind == "PNG" else {}))


def polyglot(draw: random.Random) -> bytes:
    sent = plain(draw)
    return draw.choice(
        [sent + HIDDEN * 20, HIDDEN + sent, b"GIF89a" + sent, b"%PDF-1.7\n" + sent, sent + sent]
    )


def wrong_type(draw: random.Random) -> bytes:
    if draw.random() < 0.5:
        return saved(drawn(draw), draw.choice(["GIF", "BMP", "TIFF", "ICO", "PDF", "EPS", "PPM", "TGA"]))
    texts = [
        b"",
        b"\0" * 4000,
        b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>",
        HIDDEN,
        b"MZ\x90",
    ]
    return draw.choice(texts)


def odd_mode(draw: random.Random) -> bytes:
    mode, kind = draw.choice(
        [
            ("CMYK", "JPEG"),
            ("L", "JPEG"),
            ("I;16", "PNG"),
            ("P", "PNG"),
            ("1", "PNG"),
            ("LA", "PNG"),
            ("RGBA", "WEBP"),
        ]
    )
    return saved(drawn(draw, mode), kind)


def animated(draw: random.Random) -> bytes:
    frames = [drawn(draw).resize((40, 30)) for _each in range(draw.randint(2, 9))]
    kind = draw.choice(["WEBP", "PNG"])
    return saved(frames[0], kind, save_all=True, append_images=frames[1:])


def huge_text(draw: random.Random) -> bytes:
    chunks = PngImagePlugin.PngInfo()
    size = draw.choice([1000, 900_000, 3_000_000])
    chunks.add_text("note", SECRET + "x" * size, zip=draw.random() < 0.5)
    return saved(drawn(draw), "PNG", pnginfo=chunks)


def odd_profile(draw: random.Random) -> bytes:
    profile = bytes(draw.randrange(256) for _each in range(draw.randint(1, 3000)))
    return saved(drawn(draw), draw.choice(["JPEG", "PNG", "WEBP"]), icc_profile=profile)


KINDS: Final[dict[str, Make]] = {
    "plain": plain,
    "exif": with_exif,
    "wild exif": wild_exif,
    "noise": noisy,
    "truncated": truncated,
    "bomb": bomb,
    "large": large,
    "polyglot": polyglot,
    "wrong type": wrong_type,
    "odd mode": odd_mode,
    "animated": animated,
    "huge text": huge_text,
    "odd profile": odd_profile,
}
# Large ones take a second each: a few prove as much as many.
RARE: Final = frozenset({"large"})


def mutated_photos(seed: int, count: int) -> Iterator[tuple[str, bytes]]:
    """(what was done, bytes): every kind in turn, left to no chance; the rare ones every third time round."""
    draw = random.Random(seed)
    made = turn = 0
    while made < count:
        for name, make in KINDS.items():
            if made < count and not (name in RARE and turn % 3):
                made += 1
                yield name, make(draw)
        turn += 1
