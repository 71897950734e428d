"""What the files name for the first time, written once before anything that uses it."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from shopwarranty.defects.models import ShopDefectKind
from shopwarranty.films.models import FilmProduct, Lot, Roll
from shopwarranty.inspections.models import CheckPlan
from shopwarranty.jobs.models import Method, MethodVersion, ShopField, ShopPanel
from shopwarranty.shops.models import Member

from .own_reading import OwnField
from .shelf import FieldOnShelf, Shelf
from .tables import Tables


def write_shelf(shelf: Shelf, words: Mapping[str, set[str]], tables: Tables, now: datetime) -> None:
    """`words`: what the files say in own fields, which are the choices of one that is new."""
    new = shelf.new()
    _write_people_and_methods(new, tables, now)
    _write_films(new, tables)
    for panel in new["panels"]:
        panel.pk = tables[ShopPanel].add(panel.key, panel.name, list(panel.edges))
    for kind in new["kinds"]:
        kind.pk = tables[ShopDefectKind].add(kind.key, kind.name, kind.is_failure)
    for plan in new["plans"]:  # not for new jobs: nobody said when it is due
        plan.pk = tables[CheckPlan].add(plan.key, plan.key, now)
    for field in new["fields"]:
        field.pk = _write_field(field, words, tables)
    tables.flush()


def _write_people_and_methods(new: Mapping[str, list[Any]], tables: Tables, now: datetime) -> None:
    for person in new["people"]:
        person.pk = tables[Member].add(person.name, True, now)
    for method in new["methods"]:
        method.pk = tables[Method].add(method.name)
    for version in new["versions"]:
        note = _("Named by an import; what it says is not recorded.")
        version.pk = tables[MethodVersion].add(version.method.pk, version.number, now, note)


def _write_films(new: Mapping[str, list[Any]], tables: Tables) -> None:
    for film in new["films"]:
        film.pk = tables[FilmProduct].add(film.maker, film.name, film.family)
    for lot in new["lots"]:
        lot.pk = tables[Lot].add(lot.film.pk, lot.number)
    for roll in new["rolls"]:
        lot_pk = roll.lot.pk if roll.lot else None
        reason = "" if roll.lot else roll.lot_unknown_reason
        roll.pk = tables[Roll].add(roll.film.pk, lot_pk, reason, roll.label)


def _write_field(field: FieldOnShelf, words: Mapping[str, set[str]], tables: Tables) -> int:
    own: OwnField = field.own
    choices = sorted(words.get(own.key, ())) if own.kind == "choice" else []
    return tables[ShopField].add(own.key, own.name, own.level, own.kind, own.unit, choices)
