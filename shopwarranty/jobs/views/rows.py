"""Rows of the shop by the number in an address; those of another shop are not there."""

from typing import Any

from django.shortcuts import get_object_or_404

from ..models import Deviation, Job, PanelWork, Party, Place, RemovedItem, Vehicle
from ..record import load_record
from ..record_parts import JobRecord, PanelRecord, PlaceRecord
from ..shop_catalogue import ShopCatalogue


def the_job(pk: int) -> Job:
    rows = Job.objects.select_related("vehicle", "method_version__method", "bay", "shop")
    return get_object_or_404(rows, pk=pk)


def the_panel(pk: int) -> PanelWork:
    return get_object_or_404(PanelWork.objects.select_related("job__vehicle", "job__shop"), pk=pk)


def the_place(pk: int) -> Place:
    return get_object_or_404(Place.objects.select_related("piece__panel_work__job__vehicle"), pk=pk)


def the_vehicle(pk: int) -> Any:
    """With `plate_now` and `holder_now`."""
    return get_object_or_404(Vehicle.objects.with_plate_and_holder(), pk=pk)


def the_party(pk: int) -> Party:
    return get_object_or_404(Party.objects.all(), pk=pk)


def the_deviation(pk: int) -> Deviation:
    return get_object_or_404(Deviation.objects.all(), pk=pk)


def the_item(pk: int) -> RemovedItem:
    return get_object_or_404(RemovedItem.objects.select_related("panel_work__job"), pk=pk)


def recorded(request: Any, job: Job) -> tuple[JobRecord, ShopCatalogue]:
    """The record and the catalogue it was named with."""
    catalogue = ShopCatalogue(request.shop)
    return load_record(job, catalogue), catalogue


def place_in(panel: PanelRecord, place_id: str | int | None) -> PlaceRecord | None:
    """The place of that number on the panel; None for anything else."""
    return next((place for place in panel.places if str(place.id) == str(place_id or "")), None)
