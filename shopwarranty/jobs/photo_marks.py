"""Marks on a copy of a photo: arrow, circle, ruler, and regions made unreadable. Pure: bytes in, bytes out.

Points are shares of width and height, 0 to 1, so that a mark sits right at every size the photo is shown at.
"""

import io
import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

from PIL import Image, ImageDraw, ImageFont

from .clean_photo import as_jpeg, fitted

KINDS: Final = ("arrow", "circle", "ruler", "blur")
AT_MOST: Final = 40
LONGEST: Final = 2560
# Dark under light, so that a line is seen on any paint.
UNDER, OVER = (20, 24, 28), (255, 226, 120)
TILES: Final = 6


class NotAMark(ValueError):
    """No known kind, a point outside the photo, or nothing between its two points."""


@dataclass(frozen=True, slots=True)
class Mark:
    """From one point to another; a circle's first point is its middle, a blur's two are opposite corners."""

    kind: str
    x1: float
    y1: float
    x2: float
    y2: float
    words: str = ""

    @classmethod
    def of(cls, row: Any) -> "Mark":
        """From what a form or a stored row says. Raises NotAMark."""
        try:
            points = [float(row[name]) for name in ("x1", "y1", "x2", "y2")]
            kind, words = str(row["kind"]), str(row.get("words", ""))[:24]
        except (KeyError, TypeError, ValueError, AttributeError) as error:
            raise NotAMark from error
        if kind not in KINDS or not all(math.isfinite(one) and 0 <= one <= 1 for one in points):
            raise NotAMark
        if math.hypot(points[2] - points[0], points[3] - points[1]) < 0.005:
            raise NotAMark
        return cls(kind, points[0], points[1], points[2], points[3], words)

    @property
    def as_row(self) -> dict[str, Any]:
        points = {name: round(getattr(self, name), 4) for name in ("x1", "y1", "x2", "y2")}
        return {"kind": self.kind, **points, "words": self.words}


def marked(clean: bytes, marks: Iterable[Mark]) -> tuple[bytes, int, int]:
    """A new JPEG with the marks in it, and its width and height. What is blurred is gone from these bytes."""
    with Image.open(io.BytesIO(clean), formats=("JPEG",)) as opened:
        picture = opened.convert("RGB")
    known = list(marks)
    for mark in (one for one in known if one.kind == "blur"):
        blur(picture, mark)
    for mark in (one for one in known if one.kind != "blur"):
        draw_mark(picture, mark)
    width, height = fitted(picture.size, LONGEST)
    return as_jpeg(picture, LONGEST, 88), width, height


def blur(picture: Image.Image, mark: Mark) -> None:
    """A few flat tiles, each the mean of what lay there: letters and faces cannot be won back from it."""
    (x1, x2), (y1, y2) = sorted((mark.x1, mark.x2)), sorted((mark.y1, mark.y2))
    box = (
        math.floor(x1 * picture.width),
        math.floor(y1 * picture.height),
        min(picture.width, math.ceil(x2 * picture.width) + 1),
        min(picture.height, math.ceil(y2 * picture.height) + 1),
    )
    region = picture.crop(box)
    tiles = (min(TILES, region.width), min(TILES, region.height))
    coarse = region.resize(tiles, Image.Resampling.BOX)
    picture.paste(coarse.resize(region.size, Image.Resampling.NEAREST), box[:2])


def draw_mark(picture: Image.Image, mark: Mark) -> None:
    draw, wide = ImageDraw.Draw(picture), max(3, max(picture.size) // 240)
    start = (mark.x1 * picture.width, mark.y1 * picture.height)
    end = (mark.x2 * picture.width, mark.y2 * picture.height)
    shape = {"arrow": arrow, "circle": circle, "ruler": ruler}[mark.kind]
    for colour, width in ((UNDER, wide * 2), (OVER, wide)):
        shape(draw, start, end, colour, width, wide)
    if mark.words:
        write(draw, picture, end, mark.words)


Point = tuple[float, float]
Colour = tuple[int, int, int]


def arrow(draw: Any, start: Point, end: Point, colour: Colour, width: int, wide: int) -> None:
    draw.line([start, end], fill=colour, width=width)
    angle = math.atan2(end[1] - start[1], end[0] - start[0])
    for turn in (0.45, -0.45):
        back = angle + math.pi + turn
        tip = (end[0] + 9 * wide * math.cos(back), end[1] + 9 * wide * math.sin(back))
        draw.line([end, tip], fill=colour, width=width)


def circle(draw: Any, start: Point, end: Point, colour: Colour, width: int, wide: int) -> None:
    radius, middle = math.dist(start, end), (width - wide) / 2
    box = [start[0] - radius, start[1] - radius, start[0] + radius, start[1] + radius]
    draw.ellipse([box[0] - middle, box[1] - middle, box[2] + middle, box[3] + middle], None, colour, width)


def ruler(draw: Any, start: Point, end: Point, colour: Colour, width: int, wide: int) -> None:
    """A line with a bar at either end; its length stands in its words."""
    draw.line([start, end], fill=colour, width=width)
    across = math.atan2(end[1] - start[1], end[0] - start[0]) + math.pi / 2
    x, y = 6 * wide * math.cos(across), 6 * wide * math.sin(across)
    for point in (start, end):
        draw.line([(point[0] - x, point[1] - y), (point[0] + x, point[1] + y)], fill=colour, width=width)


def write(draw: Any, picture: Image.Image, at: Point, words: str) -> None:
    size = max(16, max(picture.size) // 36)
    font = ImageFont.load_default(size)
    left, top, right, bottom = draw.textbbox((0, 0), words, font=font)
    x = min(max(at[0] + size / 2, 0), max(0, picture.width - (right - left) - size / 2))
    y = min(max(at[1] + size / 2, 0), max(0, picture.height - (bottom - top) - size))
    pad = size // 5
    box = [x + left - pad, y + top - pad, x + right + pad, y + bottom + pad]
    draw.rectangle(box, fill=UNDER)
    draw.text((x, y), words, font=font, fill=OVER)
