"""How much there is of a person: what the owner sees before anything goes out or away."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from shopwarranty.jobs.models import Party

from .belonging import Belonging


@dataclass(frozen=True, slots=True)
class Line:
    label: str
    count: int


def outline_of(party: Party) -> tuple[Line, ...]:
    about = Belonging.of([party.pk])
    return (
        Line(_("Vehicles they stand or stood to"), len(about.vehicles)),
        Line(_("Certificates made out to them"), len(about.certificates)),
        Line(_("Jobs on vehicles that are theirs alone"), len(about.jobs)),
        Line(_("Claims"), len(about.claims)),
        Line(_("Photos"), about.photos().count()),
        Line(_("Messages"), about.messages().count()),
    )
