"""A few pictures, drawn for the story: a panel, a line along its edge, and what is wrong there."""

import io

from PIL import Image, ImageDraw, ImageFilter

from shopwarranty.defects.actions import add_photo as add_to_defect
from shopwarranty.defects.models import Defect
from shopwarranty.jobs.models import Job
from shopwarranty.jobs.photos import Subject, add_photo, make_thumbnails

from ..chance import stream, uid
from .moment import Day

SIZE = (960, 720)
PAINT = ((58, 66, 78), (122, 38, 40), (36, 74, 60), (160, 150, 132))


def add_pictures(day: Day) -> None:
    """Of the newest defects, and of two vehicles as they came."""
    for number, defect in enumerate(Defect.objects.order_by("-found_on", "-pk")[:3]):
        place = defect.place
        photo = add_photo(
            sent=picture(number, lifted=True),
            subject=Subject.of_place(place),
            stage="check",
            actor=day.actor("abel"),
            now=day.ago(1, day.eve.timetz().replace(tzinfo=None)),
            uid=uid("photo", number),
        )
        add_to_defect(defect=defect, photo=photo)
    for number, job in enumerate(Job.objects.filter(state="open").order_by("pk")[:2], 10):
        add_photo(
            sent=picture(number, lifted=False),
            subject=Subject.of_panel(job.panels.order_by("walk")[0]),
            stage="intake",
            actor=day.actor("desk"),
            now=job.started_at,
            uid=uid("photo", number),
        )
    make_thumbnails(day.eve)


def picture(number: int, *, lifted: bool) -> bytes:
    """JPEG of an abstract panel under a lamp; the same for the same number."""
    rng = stream("picture", number)
    paint = PAINT[number % len(PAINT)]
    image = Image.new("RGB", SIZE, (24, 26, 29))
    draw = ImageDraw.Draw(image)
    top = rng.randint(90, 150)
    panel = [(60, top + 40), (880, top), (920, 560), (120, 610)]
    draw.polygon(panel, fill=paint)
    _light(image, panel, rng.randint(250, 650))
    draw = ImageDraw.Draw(image)
    draw.line([panel[3], panel[2]], fill=tuple(min(c + 60, 255) for c in paint), width=5)
    if lifted:
        x = rng.randint(300, 700)
        y = 610 - (x - 120) * 50 // 800
        draw.pieslice([x - 70, y - 46, x + 70, y + 46], 190, 350, fill=tuple(c // 2 for c in paint))
        draw.arc([x - 70, y - 46, x + 70, y + 46], 190, 350, fill=(226, 228, 230), width=4)
    kept = io.BytesIO()
    image.save(kept, "JPEG", quality=86)
    return kept.getvalue()


def _light(image: Image.Image, panel: list[tuple[int, int]], across: int) -> None:
    """The reflection of a lamp, soft, and only on the panel."""
    glow = Image.new("L", SIZE, 0)
    ImageDraw.Draw(glow).ellipse([across - 220, 170, across + 220, 340], fill=150)
    glow = glow.filter(ImageFilter.GaussianBlur(60))
    only = Image.new("L", SIZE, 0)
    ImageDraw.Draw(only).polygon(panel, fill=255)
    image.paste((255, 255, 255), mask=Image.composite(glow, Image.new("L", SIZE, 0), only))
