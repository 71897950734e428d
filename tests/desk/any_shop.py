"""A shop with anything in it that a shop can hold, made through the models from one source of chance."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from random import Random
from typing import Any

from shopwarranty.defects.models import Defect, Remedy, ShopDefectKind, Sighting
from shopwarranty.films.models import Cut, FilmProduct, Lot, Roll
from shopwarranty.inspections.models import Check, CheckPlan, Finding, Visit
from shopwarranty.jobs.models import (
    FieldValue,
    FilmPiece,
    Holding,
    Job,
    LayingEvent,
    Method,
    MethodVersion,
    PanelIntake,
    PanelMember,
    PanelWork,
    Party,
    Place,
    Plate,
    Reading,
    RemovedItem,
    ShopField,
    ShopPanel,
    Vehicle,
)
from shopwarranty.jobs.plates import searched_form
from shopwarranty.shops.models import Member
from shopwarranty.trade import catalogue, technique, words
from shopwarranty.trade.panels import PlaceKind
from tests.conftest import NOW

TEXTS = (
    "Ada",
    "=SUM(A1)",
    "'=x",
    "-12",
    "@here",
    "+1",
    "''@",
    "'plain quote",
    'said "no"',
    "a;b,c",
    "two\nlines",
    "two\r\nlines",
    "Škoda-free ürün",
    "العربية",
    "Đặng Thị",
    "🚗 film",
    "a | b: c\\",
    "unknown",
    "＝wide",
)
BASES = ("stated", "measured", "imported", "by_method")
BODIES = ("saloon", "suv", "van", "pickup")


class AnyShop:
    """Enter the shop's scope first."""

    def __init__(self, chance: Random) -> None:
        self.chance = chance
        self.day = date(2024, 2, 27)
        self.people = [
            Member.objects.create(name=f"{self.text()} {n}", is_installer=True, joined_at=NOW)
            for n in range(3)
        ]
        self.versions = self._methods()
        self.rolls, self.lots, self.films = self._films()
        self.fields = self._fields()
        self.kinds = ["edge-lift", "tenting", "contamination", "stone-chip"]
        if self.maybe():
            ShopDefectKind.objects.create(key="ghosting", name=self.text(), is_failure=self.maybe())
            self.kinds.append("ghosting")
        ShopPanel.objects.create(key="own-side-box", name="side box", edges=["upper", "lower"])
        self.vehicles = [self._vehicle(n) for n in range(chance.randint(1, 3))]

    def fill(self, jobs: int) -> None:
        for number in range(jobs):
            self.job(number)

    def maybe(self, share: float = 0.5) -> bool:
        return self.chance.random() < share

    def text(self, share: float = 1.0) -> str:
        return self.chance.choice(TEXTS) if self.maybe(share) else ""

    def moment(self, least: int = 0, most: int = 300) -> datetime:
        seconds = self.chance.randint(least * 86400, most * 86400)
        start = datetime.combine(self.day, datetime.min.time(), tzinfo=UTC)
        return start + timedelta(seconds=seconds, microseconds=self.chance.choice((0, 1, 999_999)))

    def number(self) -> float:
        return self.chance.choice((0.0, 7.62, 95.0, 20.277777777777779, -3.5, 1e-05, 1234567.25))

    def _methods(self) -> list[MethodVersion]:
        method = Method.objects.create(name=f"Usual {self.text()}")
        return [MethodVersion.objects.create(method=method, number=n, valid_from=NOW) for n in (1, 2)]

    def _films(self) -> tuple[list[Roll], list[Lot], list[FilmProduct]]:
        families = list(words.FilmFamily)
        films = [
            FilmProduct.objects.create(
                maker=self.text(0.7), name=f"Film {n} {self.text()}", family=families[n]
            )
            for n in range(3)
        ]
        lots = [Lot.objects.create(product=film, number=f"{self.text()}{film.pk}") for film in films]
        rolls = [Roll.objects.create(product=lot.product, lot=lot, label=f"R{lot.pk}") for lot in lots]
        label = f"R-{films[0].pk}"
        unknown = {"product": films[0], "label": label, "lot_unknown_reason": "label_lost"}
        return [*rolls, Roll.objects.create(**unknown)], lots, films

    def _fields(self) -> list[ShopField]:
        kinds = (("job", "yes_no"), ("panel", "choice"), ("place", "number"))
        return [
            ShopField.objects.create(
                key=f"own-{level}",
                name=f"Own: {self.text()}",
                level=level,
                kind=kind,
                unit="mm" if kind == "number" else "",
                choices=list(TEXTS) if kind == "choice" else [],
            )
            for level, kind in kinds
        ]

    def _vehicle(self, number: int) -> Vehicle:
        vin = self.chance.choice(("", f"0DEMXWRA1TF00{self.chance.randint(1000, 9999)}"))
        vehicle = Vehicle.objects.create(
            make=self.text(0.8),
            model=self.text(0.8),
            year=self.chance.choice((None, 1979, 2024)),
            colour=self.text(0.5),
            body_style=self.chance.choice(BODIES),
            owned=self.chance.choice(("customer", "shop", "panel")),
            use=self.chance.choice(("", "road", "stored")),
            vin=f"{vin[:-1]}{number}" if vin else "",
            vin_kind="vin" if vin else self.chance.choice(("to_read", "none")),
        )
        for n in range(self.chance.randint(0, 3)):
            since = self.day + timedelta(days=self.chance.choice((0, 30, 100, 200)))
            plate = f"7FN {n % 2}"
            Plate.objects.create(vehicle=vehicle, text=plate, searched=searched_form(plate), since=since)
        for n in range(self.chance.randint(0, 3)):
            email = self.chance.choice(("", "ada@example.com"))
            party = Party.objects.create(name=self.text(), email=email, address=self.text(0.5))
            since = self.day + timedelta(days=self.chance.choice((0, 30, 100, 200)))
            until = since if n < 2 else None
            Holding.objects.create(vehicle=vehicle, party=party, role="holder", since=since, until=until)
        return vehicle

    def job(self, number: int) -> Job:
        started = self.moment(0, 250)
        handed = self.maybe(0.8)
        at = started + timedelta(days=2) if handed else None
        version = self.chance.choice((None, *self.versions))
        job = Job.objects.create(
            ref=self.chance.choice((f"J{number}", f"={number}", f"Ä {number}", f"'-{number}")),
            vehicle=self.chance.choice(self.vehicles),
            kind=self.chance.choice(("customer", "own", "test_panel")),
            state=self.chance.choice(("handed_over", "closed")) if handed else "open",
            method_version=version,
            no_method_reason="" if version else self.text(0.3),
            handed_over_at=at,
            handed_over_on=at.date() if at else None,
            started_at=started,
            entered_at=started + timedelta(days=self.chance.choice((0, 9))),
            confirmed_at=started,
            quoted_months=self.chance.choice((None, 60)),
            makers_procedure=self.chance.choice(("", "yes", "not_asked")),
            note=self.text(0.4),
            **self.techniques(technique.fields(technique.Level.JOB)),
        )
        self.own_value("job", job=job)
        self._panels(job, started)
        if handed:
            self._visits(job, started.date() + timedelta(days=3))
        return job

    def techniques(self, fields: tuple[technique.TechniqueField, ...]) -> dict[str, Any]:
        values: dict[str, Any] = {}
        for field in fields:
            if self.maybe(0.4):
                values[field.key] = self._value(field)
                values[f"{field.key}_basis"] = self.chance.choice(BASES)
        return values

    def _value(self, field: technique.TechniqueField) -> Any:
        if field.kind is technique.FieldKind.YES_NO:
            return self.maybe()
        if field.kind is technique.FieldKind.CHOICE:
            return self.chance.choice(field.choices).key
        return self.chance.randint(0, 4) if field.whole else abs(self.number())

    def own_value(self, level: str, **owner: Any) -> None:
        field = next(field for field in self.fields if field.level == level)
        if self.maybe(0.3):
            said = {"job": "yes", "panel": self.text(), "place": "-7.5"}[level]
            FieldValue.objects.create(field=field, value=said, basis=self.chance.choice(BASES[:3]), **owner)

    def _panels(self, job: Job, started: datetime) -> None:
        keys = [*catalogue.panel_keys(job.vehicle.body_style), "own-side-box"]
        for walk, panel in enumerate(self.chance.sample(keys, self.chance.randint(0, 3))):
            finished = started + timedelta(hours=self.chance.randint(1, 40)) if self.maybe(0.9) else None
            work = PanelWork.objects.create(
                job=job,
                panel=panel,
                walk=walk,
                finished_at=finished,
                confirmed_at=started,
                note=self.text(0.2),
                **self.techniques(technique.fields(technique.Level.PANEL)),
            )
            self._beside(job, work, started)
            pieces = self._pieces(work)
            for piece in pieces:
                self._places(job, work, piece, pieces)

    def _beside(self, job: Job, work: PanelWork, started: datetime) -> None:
        self.own_value("panel", panel_work=work)
        for n, member in enumerate(self.chance.sample(self.people, self.chance.randint(0, 3))):
            PanelMember.objects.create(panel_work=work, member=member, is_lead=n == 0, part=self.text(0.5))
        if self.maybe(0.3):
            PanelIntake.objects.create(panel_work=work, substrate="repaint", marks=self.text(), at=started)
        for _ in range(self.chance.randint(0, 2)):
            RemovedItem.objects.create(
                panel_work=work, name=self.text(), outcome=self.chance.choice(("", "refitted"))
            )
        if self.maybe(0.3):
            LayingEvent.objects.create(panel_work=work, kind="needle", at=started, note=self.text(0.5))
        for _ in range(self.chance.randint(0, 2)):
            humidity = self.chance.choice((None, 46.5))
            Reading.objects.create(
                job=job,
                panel_work=self.chance.choice((None, work)),
                at=started + timedelta(hours=self.chance.randint(-30, 30)),
                air_c=self.number(),
                air_c_basis="measured",
                humidity=humidity,
                humidity_basis="stated" if humidity else "",
                instrument=self.text(0.5),
                entered_at=started,
            )

    def _pieces(self, work: PanelWork) -> list[FilmPiece]:
        pieces: list[FilmPiece] = []
        for number in range(1, self.chance.randint(0, 3) + 1):
            roll = self.chance.choice((None, *self.rolls))
            lot = roll.lot if roll else self.chance.choice((None, *self.lots))
            product = (
                roll.product if roll else lot.product if lot else self.chance.choice((None, *self.films))
            )
            reason = "" if lot else roll.lot_unknown_reason if roll else self.text(0.5)
            ended = self.maybe(0.2)
            pieces.append(
                FilmPiece.objects.create(
                    panel_work=work,
                    number=number,
                    layer=self.chance.randint(1, 2),
                    name=self.text(0.3),
                    product=product,
                    lot=lot,
                    lot_unknown_reason=reason,
                    roll=roll,
                    cut=self._cut(roll) if self.maybe(0.4) else None,
                    supplied_by_owner=self.maybe(0.2),
                    ended_on=date(2025, 1, 1) if ended else None,
                    ended_why="replaced" if ended else "",
                    replaces=pieces[-1] if pieces and self.maybe(0.3) else None,
                )
            )
        return pieces

    def _cut(self, roll: Roll | None) -> Cut:
        return Cut.objects.create(
            roll=roll,
            kind="piece",
            along_mm=abs(self.number()),
            across_mm=self.chance.choice((None, 965.2)),
            off_roll_mm=self.chance.choice((0.0, 12.5)),
            long_side_across=self.chance.choice((None, True, False)),
            cut_at=self.moment(),
        )

    def _places(self, job: Job, work: PanelWork, piece: FilmPiece, pieces: list[FilmPiece]) -> None:
        if self.maybe(0.1):
            return
        body = job.vehicle.body_style
        if catalogue.has_panel(body, work.panel):
            kinds = {p.key: p.kind for p in catalogue.default_places(catalogue.panel(body, work.panel))}
        else:
            kinds = {"edge-1": PlaceKind.EDGE, "edge-2": PlaceKind.EDGE, "field": PlaceKind.FIELD}
        others = [one for one in pieces if one != piece]
        rows: list[tuple[str, PlaceKind, str, FilmPiece | None]] = [
            (key, kind, "", None) for key, kind in kinds.items() if self.maybe(0.8)
        ]
        rows += [("cup", PlaceKind.RECESS, self.text(), None)] if self.maybe(0.3) else []
        rows += [("seam", PlaceKind.SEAM, "", self.chance.choice(others))] if others and self.maybe() else []
        for walk, (key, kind, name, other) in enumerate(rows):
            place = Place.objects.create(
                piece=piece,
                key=key,
                kind=kind.value,
                name=name,
                other_piece=other,
                walk=walk if kind is not PlaceKind.SEAM else 900,
                added_on=self.chance.choice((None, None, date(2024, 12, 1))),
                **self.techniques(technique.fields(technique.Level.PLACE, kind)),
            )
            self.own_value("place", place=place)
            if self.maybe(0.1):
                LayingEvent.objects.create(panel_work=work, place=place, kind="fold", note=self.text(0.5))

    def _visits(self, job: Job, first: date) -> None:
        places = list(Place.objects.filter(piece__panel_work__job=job).order_by("pk"))
        standing: dict[tuple[int, str], Defect] = {}
        on = first
        for number in range(self.chance.randint(0, 3) if places else 0):
            on += timedelta(days=self.chance.choice((0, 1, 14)))
            origin = (
                "planned" if number == 0 else self.chance.choice(("planned", "walk_in", "defect", "claim"))
            )
            visit = self._visit(job, on, origin, is_handover=number == 0 and self.maybe())
            for place in places:
                self._finding(visit, place, standing)

    def _visit(self, job: Job, on: date, origin: str, *, is_handover: bool) -> Visit:
        at = datetime.combine(on, datetime.min.time(), tzinfo=UTC) + timedelta(
            hours=self.chance.randint(9, 15)
        )
        return Visit.objects.create(
            job=job,
            state="finished",
            origin=origin,
            is_handover_look=is_handover,
            by_photo=self.maybe(0.1) and not is_handover,
            check_due=self._check(job, on) if self.maybe(0.3) else None,
            since_when=on - timedelta(days=3) if self.maybe(0.3) else None,
            since_when_words=self.text(0.2),
            happened_on=on,
            started_at=at,
            finished_at=at,
            entered_at=at,
            odometer_km=self.chance.choice((None, 12)),
            member=self.chance.choice((None, *self.people)),
            note=self.text(0.2),
        )

    def _check(self, job: Job, on: date) -> Check:
        plan = CheckPlan.objects.get_or_create(key="two-week", defaults={"name": "Two weeks"})[0]
        window = {"window_from": on, "window_to": on, "state": self.chance.choice(("done", "due"))}
        return Check.objects.get_or_create(job=job, plan=plan, due_on=on, defaults=window)[0]

    def _finding(self, visit: Visit, place: Place, standing: dict[tuple[int, str], Defect]) -> None:
        result = self.chance.choice((None, "clean", "clean", "not_looked", "defect"))
        if result is None:
            return
        why = "dirty" if result == "not_looked" and self.maybe() else ""
        said = {"result": result, "why_not": why, "said": "tapped", "at": visit.started_at}
        finding = Finding.objects.create(visit=visit, place=place, **said)
        if result == "defect":
            for kind in self.chance.sample(self.kinds, self.chance.randint(1, 2)):
                self._sighting(visit, finding, place, kind, standing)

    def _sighting(
        self, visit: Visit, finding: Finding, place: Place, kind: str, standing: dict[tuple[int, str], Defect]
    ) -> None:
        defect = standing.get((place.pk, kind))
        if defect is None or defect.state != "open":
            defect = standing[place.pk, kind] = self._defect(visit, place, kind, defect)
        Sighting.objects.create(
            defect=defect,
            finding=finding,
            severity=self.chance.randint(1, 4),
            extent_mm=self.chance.choice((None, 12.7)),
            count=self.chance.choice((None, 3)),
            note=self.text(0.2),
        )
        remedies = [self._remedy(defect, visit) for _ in range(self.chance.choice((0, 0, 1, 2)))]
        if any(remedy.kind == "reheat" for remedy in remedies):
            defect.state = "remedied"
            Defect.objects.filter(pk=defect.pk).update(state="remedied")

    def _defect(self, visit: Visit, place: Place, kind: str, before: Defect | None) -> Defect:
        cause = self.chance.choice(("", "tension"))
        return Defect.objects.create(
            number=f"D{Defect.objects.count() + 1:04d}",
            place=place,
            kind=kind,
            kind_words=f"{kind} {self.text()}"[:80],
            found_on=visit.happened_on,
            at_handover=visit.is_handover_look,
            recurrence_of=before,
            cause=cause,
            cause_sure="likely" if cause else "",
            verified=self.chance.choice((None, True)),
        )

    def _remedy(self, defect: Defect, visit: Visit) -> Remedy:
        on = visit.happened_on + timedelta(days=self.chance.choice((0, 0, 1)))
        heat = self.chance.choice((None, 82.5))
        return Remedy.objects.create(
            defect=defect,
            kind=self.chance.choice(("reheat", "wait", "refund")),
            done_on=on,
            done_at=visit.started_at,
            member=self.chance.choice((None, *self.people)),
            cost=self.chance.choice((None, Decimal("12.50"))),
            post_heat_c=heat,
            post_heat_c_basis="measured" if heat else "",
            note=self.text(0.3),
        )
