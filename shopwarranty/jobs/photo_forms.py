"""What comes along with photos, and what is said of one afterwards."""

import json
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.web.fields import MomentField

from .models import Job, PanelWork, Photo, Place
from .photo_marks import AT_MOST, Mark, NotAMark
from .photos import Subject, Told
from .shop_catalogue import ShopCatalogue

WHOLE = ""


@dataclass(frozen=True, slots=True)
class Spot:
    """Something a photo can show, as a choice: a panel, or a place on it."""

    value: str
    words: str


class Spots:
    """The panels of a job and their places, by the value a form sends. Two queries."""

    def __init__(self, job: Job, catalogue: ShopCatalogue) -> None:
        body = job.vehicle.body_style
        self.job = job
        self.works = {row.pk: row for row in PanelWork.objects.filter(job=job)}
        rows = Place.objects.filter(piece__panel_work__job=job).select_related("piece__panel_work")
        self.places = {row.pk: row for row in rows}
        self.panel_names = {pk: catalogue.panel_name(body, row.panel) for pk, row in self.works.items()}
        self.place_names = {
            pk: catalogue.place_name(body, row.piece.panel_work.panel, row.key, row.name)
            for pk, row in self.places.items()
        }

    @property
    def groups(self) -> list[tuple[str, list[Spot]]]:
        """Panel by panel: the panel itself, then its places."""
        made: list[tuple[str, list[Spot]]] = []
        for pk, name in self.panel_names.items():
            places = [
                Spot(f"place-{each}", f"{name}, {self.place_names[each]}")
                for each, row in self.places.items()
                if row.piece.panel_work_id == pk
            ]
            made.append((name, [Spot(str(pk), name), *places]))
        return made

    def of(self, value: str) -> tuple[PanelWork | None, Place | None] | None:
        """None for a value that is none of this job's."""
        if value == WHOLE:
            return None, None
        number = value.removeprefix("place-")
        if not number.isdecimal():
            return None
        if value != number:
            place = self.places.get(int(number))
            return (place.piece.panel_work, place) if place else None
        work = self.works.get(int(number))
        return (work, None) if work else None

    def subject(self, value: str) -> Subject | None:
        found = self.of(value)
        return Subject(self.job.vehicle, self.job, *found) if found else None

    def words(self, photo: Photo) -> str:
        """What a photo shows; empty for the whole vehicle."""
        panel = self.panel_names.get(photo.panel_work_id or 0, "")
        place = self.place_names.get(photo.place_id or 0, "")
        return f"{panel}, {place}" if place else panel

    @staticmethod
    def value_of(photo: Photo) -> str:
        if photo.place_id:
            return f"place-{photo.place_id}"
        return str(photo.panel_work_id or WHOLE)


class SendForm(forms.Form):
    """Beside the files: how far the work was, when they were taken if somebody knows, the phone's time."""

    stage = forms.ChoiceField(choices=Photo.Stage.choices, required=False)
    taken_at = MomentField(
        label=gettext_lazy("When, if you know"),
        required=False,
        help_text=gettext_lazy("Only counts where the camera wrote no time of its own."),
    )
    phone_time = forms.IntegerField(required=False, min_value=0, max_value=10**14)

    def stage_said(self) -> str:
        return self.cleaned_data.get("stage") or Photo.Stage.WORK

    def told(self) -> Told:
        milliseconds = self.cleaned_data.get("phone_time")
        by_phone = datetime.fromtimestamp(milliseconds / 1000, UTC) if milliseconds else None
        return Told(self.cleaned_data.get("taken_at"), by_phone)


class PhotoForm(forms.Form):
    shows = forms.ChoiceField(label=gettext_lazy("It shows"), required=False)
    taken_at = MomentField(
        label=gettext_lazy("Taken"),
        required=False,
        help_text=gettext_lazy("Only if the camera's clock was wrong or it wrote none. Empty: not known."),
    )
    caption = forms.CharField(label=gettext_lazy("In words"), max_length=160, required=False)

    def __init__(self, *args: Any, spots: Spots, **more: Any) -> None:
        super().__init__(*args, **more)
        groups = [(name, [(one.value, one.words) for one in each]) for name, each in spots.groups]
        self.fields["shows"].choices = [(WHOLE, _("The whole vehicle")), *groups]  # type: ignore[attr-defined]


MARKS = (
    ("arrow", gettext_lazy("Arrow")),
    ("circle", gettext_lazy("Circle")),
    ("ruler", gettext_lazy("Ruler")),
    ("blur", gettext_lazy("Blur")),
)


class MarkForm(forms.Form):
    """One mark more, and the ones said before as text. Points are typed in percent of the photo."""

    kind = forms.ChoiceField(label=gettext_lazy("Mark"), choices=MARKS, widget=forms.RadioSelect)
    x1 = forms.FloatField(label=gettext_lazy("From: across, %"), min_value=0, max_value=100)
    y1 = forms.FloatField(label=gettext_lazy("From: down, %"), min_value=0, max_value=100)
    x2 = forms.FloatField(label=gettext_lazy("To: across, %"), min_value=0, max_value=100)
    y2 = forms.FloatField(label=gettext_lazy("To: down, %"), min_value=0, max_value=100)
    words = forms.CharField(
        label=gettext_lazy("Beside it"),
        max_length=24,
        required=False,
        help_text=gettext_lazy("A length for a ruler, as measured on the vehicle: 14 mm."),
    )

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if not self.errors:
            try:
                self.mark()
            except NotAMark as error:
                raise forms.ValidationError(_("Its two points lie on each other. Move one.")) from error
        return values

    def mark(self) -> Mark:
        shares = {name: self.cleaned_data[name] / 100 for name in ("x1", "y1", "x2", "y2")}
        return Mark.of({**shares, "kind": self.cleaned_data["kind"], "words": self.cleaned_data["words"]})


def marks_from(text: str) -> list[Mark]:
    """Marks said before, as the page carries them. What is none is left out."""
    try:
        rows = json.loads(text or "[]")
    except ValueError:
        return []
    found: list[Mark] = []
    for row in rows[:AT_MOST] if isinstance(rows, list) else []:
        try:
            found.append(Mark.of(row))
        except NotAMark:
            continue
    return found


def as_text(marks: list[Mark]) -> str:
    return json.dumps([mark.as_row for mark in marks])
