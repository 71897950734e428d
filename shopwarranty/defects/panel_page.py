"""One panel of a visit as a page: its places as forms, likeliest to lift first, and its drawing."""

from collections import defaultdict
from collections.abc import Mapping
from typing import Any, Final

from django.utils.translation import gettext as _

from shopwarranty.inspections.models import Finding, ReportPhoto, Visit
from shopwarranty.jobs.models import Photo, Place
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.models import Shop
from shopwarranty.web.trade_names import first_upper
from shopwarranty.web.vehicle import PanelDrawing, PlaceMark

from .actions import PlaceSaid, SightSaid
from .kinds import SHOWN_FIRST, KindsOfShop
from .likeliest import in_order
from .look_forms import AnswerForm, PlaceForms, SightForm, initial_of
from .models import Sighting
from .walk import LOOKS, Stop, Walk, look, places_of, worst

MOST_SIGHTS: Final = 6
Posted = Mapping[str, Any] | None


class PanelPage:
    """`posted`, `files`: what was sent; without it the page shows what is stored. `more`: a place that gets
    room for one more defect. `everything`: also places that the check does not ask for."""

    def __init__(
        self,
        visit: Visit,
        stop: Stop,
        catalogue: ShopCatalogue,
        *,
        posted: Posted = None,
        files: Posted = None,
        more: int | None = None,
        everything: bool = False,
    ) -> None:
        self.visit, self.stop, self.catalogue, self.more = visit, stop, catalogue, more
        self.shop: Shop = catalogue.shop
        self.posted, self.files = posted, files
        self.kinds = KindsOfShop(self.shop)
        places = places_of(visit, everything=everything)
        self.rows = [place for place in places if place.piece.panel_work_id == stop.work_id]
        self.several = len({place.piece_id for place in self.rows}) > 1
        findings = visit.findings.filter(place__in=self.rows, corrected_at__isnull=True)
        self.findings = {finding.place_id: finding for finding in findings}
        self.sightings = self._sightings()
        self.baselines = self._baselines()
        self.sent = self._sent() if visit.by_photo else []
        self.places = [self._forms(place, reason) for place, reason in in_order(self.rows)]

    def _sightings(self) -> Mapping[int, list[Sighting]]:
        found: dict[int, list[Sighting]] = defaultdict(list)
        rows = Sighting.objects.filter(finding__in=self.findings.values()).select_related("defect", "finding")
        for sighting in rows.order_by("pk"):
            found[sighting.finding.place_id].append(sighting)
        return found

    def _baselines(self) -> Mapping[int, Photo]:
        """The oldest unmarked photo of each place."""
        rows = Photo.objects.filter(
            place__in=self.rows, set_aside_at__isnull=True, marked_from__isnull=True
        ).order_by("-added_at", "-pk")
        return {photo.place_id: photo for photo in rows if photo.place_id}

    def _sent(self) -> list[Photo]:
        """What the holder sent, when that is what is looked at."""
        sent = ReportPhoto.objects.filter(report__visit=self.visit).values("photo")
        return list(Photo.objects.filter(pk__in=sent, set_aside_at__isnull=True).order_by("pk"))

    def _forms(self, place: Place, reason: str) -> PlaceForms:
        finding = self.findings.get(place.pk)
        stored = {"result": finding.result, "why_not": finding.why_not} if finding else {}
        return PlaceForms(
            place.pk,
            finding.version if finding else 0,
            self.name_of(place),
            reason,
            AnswerForm(self.posted, prefix=f"p{place.pk}", initial=stored),
            tuple(self._sight_form(place, number) for number in range(self._sights(place))),
            look(finding.result if finding else ""),
            finding is not None and finding.said == Finding.Said.SWEPT,
            self.baselines.get(place.pk),
        )

    def _sights(self, place: Place) -> int:
        """How many defects the page has room for at this place."""
        if self.posted is not None:
            sent = str(self.posted.get(f"p{place.pk}-sights", "1"))
            return min(int(sent) if sent.isdecimal() else 1, MOST_SIGHTS) or 1
        stored = len(self.sightings.get(place.pk, []))
        return min(max(1, stored) + (place.pk == self.more), MOST_SIGHTS)

    def _sight_form(self, place: Place, number: int) -> SightForm:
        offered = tuple(kind.key for kind in self.kinds.offered(place.kind)[:SHOWN_FIRST])
        stored = self.sightings.get(place.pk, [])[number : number + 1]
        return SightForm(
            self.posted,
            self.files,
            prefix=f"p{place.pk}-{number}",
            initial=initial_of(stored[0], self.shop, offered) if stored else {},
            empty_permitted=number > 0 and not stored,
            place_kind=place.kind,
            kinds=self.kinds,
            shop=self.shop,
        )

    def name_of(self, place: Place) -> str:
        body = self.visit.job.vehicle.body_style
        name = first_upper(self.catalogue.place_name(body, self.stop.key, place.key, place.name))
        if not self.several:
            return name
        piece = place.piece.name or _("piece %(n)d") % {"n": place.piece.number}
        return f"{name}, {piece}"

    def is_valid(self) -> bool:
        """Whether everything sent can be saved; what cannot is said beside its field."""
        faulty = [forms for forms in self.places if not self._place_is_valid(forms)]
        return not faulty

    def errors(self) -> list[str]:
        """What cannot be saved, in words that name the place."""
        return [
            f"{forms.name}: {words}"
            for forms in self.places
            for form in (forms.answer, *forms.sights)
            if form.is_bound
            for errors in form.errors.values()
            for words in errors
            if form is forms.answer or forms.answer.cleaned_data.get("result") == Finding.Result.DEFECT
        ]

    def versions(self) -> dict[str, str]:
        """What a form must say it saw of each place to be newer than what stands there now."""
        return {forms.answer["was"].html_name: str(forms.version) for forms in self.places}

    def _place_is_valid(self, forms: PlaceForms) -> bool:
        if not forms.answer.is_valid():
            return False
        result = forms.answer.cleaned_data["result"]
        if result == Finding.Result.DEFECT and not self._sights_are_valid(forms):
            return False
        if result and self._somebody_else_said(forms):
            stored = dict(Finding.Result.choices)[self.findings[forms.pk].result]
            words = _("Somebody said “%(stored)s” here in the meantime. Press again to keep your answer.")
            forms.answer.add_error("result", words % {"stored": stored})
            return False
        return True

    def _somebody_else_said(self, forms: PlaceForms) -> bool:
        """The stored answer is newer than the page, and not the same as what was sent."""
        stored = self.findings.get(forms.pk)
        if stored is None or stored.version == forms.answer.cleaned_data["was"]:
            return False
        sights = {(s.defect.kind, s.severity, s.extent_mm, s.note) for s in self.sightings.get(forms.pk, [])}
        mine = {(s.kind, s.severity, s.extent_mm, s.note) for s in self._sights_said(forms)}
        return (stored.result, sights) != (forms.answer.cleaned_data["result"], mine)

    def _sights_are_valid(self, forms: PlaceForms) -> bool:
        kinds: set[str] = set()
        for form in forms.sights:
            if form.is_valid() and form.said_kind:
                if form.said_kind in kinds:
                    form.add_error("kind", _("This is named above already. Change it there."))
                kinds.add(form.said_kind)
        return not any(form.errors for form in forms.sights)

    def said(self) -> list[PlaceSaid]:
        """What the valid page says, place by place; a place without an answer is left out."""
        by_pk = {place.pk: place for place in self.rows}
        return [
            PlaceSaid(
                by_pk[forms.pk],
                forms.answer.cleaned_data["result"],
                forms.answer.cleaned_data["why_not"],
                self._sights_said(forms),
            )
            for forms in self.places
            if forms.answer.cleaned_data["result"]
        ]

    def _sights_said(self, forms: PlaceForms) -> tuple[SightSaid, ...]:
        if forms.answer.cleaned_data["result"] != Finding.Result.DEFECT:
            return ()
        return tuple(form.sight() for form in forms.sights if form.said_kind)

    def photos(self) -> list[tuple[int, str, Any]]:
        """Files sent with a defect: place, kind, file."""
        return [
            (forms.pk, form.said_kind, form.cleaned_data["photo"])
            for forms in self.places
            if forms.answer.cleaned_data["result"] == Finding.Result.DEFECT
            for form in forms.sights
            if form.cleaned_data.get("photo")
        ]

    def drawing(self) -> PanelDrawing:
        """Each stroke leads to its place in the list below."""
        by_pk = {forms.pk: forms for forms in self.places}
        looks = worst((place.key, by_pk[place.pk].said) for place in self.rows)
        words = {LOOKS[Finding.Result(key)]: str(label) for key, label in Finding.Result.choices}
        first = {place.key: place.pk for place in reversed(self.rows)}
        body = self.visit.job.vehicle.body_style
        return PanelDrawing(
            body,
            self.stop.key,
            _("%(panel)s, %(n)d places.") % {"panel": self.stop.name, "n": len(self.rows)},
            marks={
                key: PlaceMark(one, url=f"#place-{first[key]}", said=words[one]) for key, one in looks.items()
            },
            added_panels=self.catalogue.added_panels(body),
            added_places=self.catalogue.added_places(body),
        )


def stop_or_first(walk: Walk, work_id: int) -> Stop | None:
    return walk.at(work_id) or (walk.stops[0] if walk.stops else None)
