"""Forms about vehicles and the people around them."""

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.trade import catalogue
from shopwarranty.trade import vin as trade_vin
from shopwarranty.web.fields import DayField
from shopwarranty.web.seen import AsSeen
from shopwarranty.web.trade_names import first_upper, is_american, trade_name

from ..models import Holding, Party, Plate, Vehicle
from ..plates import searched_form

VIN = Vehicle.VinKind
USES = [
    ("", gettext_lazy("Not recorded")),
    ("road", gettext_lazy("Road")),
    ("off_road", gettext_lazy("Off-road")),
    ("stored", gettext_lazy("Stored")),
]


PARTY_KINDS = [(Party.Kind.PERSON, gettext_lazy("Person")), (Party.Kind.FIRM, gettext_lazy("Firm"))]


def body_choices(shop: Any) -> list[tuple[str, str]]:
    return [(body.key, first_upper(trade_name(body, shop))) for body in catalogue.bodies()]


class VinFields(forms.Form):
    """VIN, chassis number, or why there is neither yet. `use_vin` in the data is a suggestion taken up."""

    vin = forms.CharField(
        label=gettext_lazy("VIN or chassis number"),
        max_length=40,
        required=False,
        help_text=gettext_lazy("17 characters. Empty: to be read on arrival."),
        widget=forms.TextInput(
            attrs={"autocapitalize": "characters", "autocomplete": "off", "spellcheck": "false"}
        ),
    )
    vin_kind = forms.ChoiceField(
        label=gettext_lazy("This is"),
        choices=[
            (VIN.VIN, gettext_lazy("a VIN")),
            (VIN.CHASSIS, gettext_lazy("another chassis number")),
            (VIN.NONE, gettext_lazy("there is none")),
        ],
        widget=forms.RadioSelect,
        initial=VIN.VIN,
    )
    vin_reason = forms.CharField(
        label=gettext_lazy("Why no VIN"),
        max_length=160,
        required=False,
        help_text=gettext_lazy("For example: built before 1981, kit, trailer."),
    )

    def __init__(self, data: Any = None, *args: Any, known: Vehicle | None = None, **more: Any) -> None:
        if data is not None and data.get("use_vin"):
            data = data.copy()
            data["vin"] = data["use_vin"]
        super().__init__(data, *args, **more)
        self.known, self.suggestion, self.doubtful = known, "", False
        self.same_vin: Vehicle | None = None

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        typed, kind = values.get("vin", "").strip(), values.get("vin_kind")
        if kind == VIN.NONE:
            values["vin"] = ""
        elif not typed:
            values["vin_kind"] = VIN.TO_READ
        elif kind == VIN.VIN:
            self.check_vin(typed)
        if values.get("vin_kind") in (VIN.NONE, VIN.CHASSIS) and not values.get("vin_reason"):
            self.add_error("vin_reason", _("Say in a few words why there is no VIN."))
        return values

    def check_vin(self, typed: str) -> None:
        checked = trade_vin.check(typed)
        self.suggestion, self.doubtful = checked.suggestion or "", checked.is_doubtful
        for fault in checked.faults:
            self.add_error("vin", fault_words(fault))
        if checked.faults:
            return
        same = Vehicle.objects.filter(vin=checked.vin, vin_kind=VIN.VIN, merged_into__isnull=True)
        self.same_vin = (same.exclude(pk=self.known.pk) if self.known else same).first()
        if self.same_vin:
            self.add_error("vin", _("A vehicle with this VIN is already recorded."))


def fault_words(fault: trade_vin.VinFault) -> str:
    """In the reader's language: what is wrong, and where."""
    at = {"letter": fault.found, "position": fault.position, "digit": fault.suggestion}
    if fault.error is trade_vin.VinError.LENGTH:
        return _("%(n)s characters; a VIN has 17.") % {"n": fault.found}
    if fault.error is trade_vin.VinError.LETTER:
        return _("Letter %(letter)s in position %(position)s is not used in a VIN; perhaps %(digit)s.") % at
    if fault.error is trade_vin.VinError.CHARACTER:
        return _("%(letter)s in position %(position)s is not used in a VIN.") % at
    return _("Nothing was typed.")


class VehicleForm(VinFields):
    make = forms.CharField(label=gettext_lazy("Make"), max_length=60, required=False)
    model = forms.CharField(label=gettext_lazy("Model"), max_length=60, required=False)
    year = forms.IntegerField(
        label=gettext_lazy("Year"),
        required=False,
        min_value=1885,
        max_value=2100,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )
    colour = forms.CharField(label=gettext_lazy("Colour"), max_length=60, required=False)
    body_style = forms.ChoiceField(label=gettext_lazy("Body style"), widget=forms.RadioSelect)
    use = forms.ChoiceField(
        label=gettext_lazy("Used"), choices=USES, widget=forms.RadioSelect, required=False
    )
    owned = forms.ChoiceField(
        label=gettext_lazy("Whose"),
        choices=Vehicle.Owned.choices,
        widget=forms.RadioSelect,
        initial=Vehicle.Owned.CUSTOMER,
    )
    note = forms.CharField(
        label=gettext_lazy("Note"), required=False, widget=forms.Textarea(attrs={"rows": 2})
    )
    VALUES = (
        "make",
        "model",
        "year",
        "colour",
        "body_style",
        "use",
        "owned",
        "note",
        "vin",
        "vin_kind",
        "vin_reason",
    )

    def __init__(self, *args: Any, shop: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["body_style"].choices = body_choices(shop)  # type: ignore[attr-defined]
        if is_american(shop):
            self.fields["colour"].label = _("Color")

    def values(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in self.VALUES}


class ChangeVehicleForm(AsSeen, VehicleForm):
    """A vehicle that is recorded already."""


class PartyFields(forms.Form):
    kind = forms.ChoiceField(
        label=gettext_lazy("Person or firm"),
        choices=PARTY_KINDS,
        widget=forms.RadioSelect,
        initial=Party.Kind.PERSON,
    )
    name = forms.CharField(label=gettext_lazy("Name"), max_length=160)
    telephone = forms.CharField(label=gettext_lazy("Telephone"), max_length=40, required=False)
    email = forms.EmailField(
        label=gettext_lazy("E-mail"),
        required=False,
        help_text=gettext_lazy("Empty: certificate and reminders go by letter or telephone."),
    )
    address = forms.CharField(
        label=gettext_lazy("Address"), required=False, widget=forms.Textarea(attrs={"rows": 2})
    )
    buys = forms.ChoiceField(
        label=gettext_lazy("Buys"),
        choices=[("consumer", gettext_lazy("Privately")), ("business", gettext_lazy("For a business"))],
        widget=forms.RadioSelect,
        initial="consumer",
        help_text=gettext_lazy("Consumer law applies to private buyers."),
    )
    PARTY_VALUES = ("kind", "name", "telephone", "email", "address")

    def party_values(self) -> dict[str, Any]:
        values = {name: self.cleaned_data[name] for name in self.PARTY_VALUES}
        return {**values, "is_consumer": self.cleaned_data["buys"] == "consumer"}


class ChangePartyForm(AsSeen, PartyFields):
    """Contact data that stand already."""


def party_initial(party: Party) -> dict[str, Any]:
    values = {name: getattr(party, name) for name in PartyFields.PARTY_VALUES}
    return {**values, "buys": "consumer" if party.is_consumer else "business"}


class KnownParty(forms.Form):
    """Asks whether it is the same when somebody of that name, mail or number is recorded already."""

    def ask_known(self, name: str, email: str, telephone: str) -> None:
        found = same_parties(name, email, telephone)
        if not found:
            return
        people = [(str(party.pk), party_words(party)) for party in found]
        self.fields["known_party"] = forms.ChoiceField(
            label=_("Somebody like this is recorded. The same?"),
            choices=[*people, ("new", _("No, somebody else"))],
            widget=forms.RadioSelect,
            error_messages={"required": _("Say whether it is the same person or firm.")},
        )


def same_parties(name: str, email: str, telephone: str) -> list[Party]:
    if not name.strip():
        return []
    rows = Party.objects.filter(name__iexact=name.strip())
    if email.strip():
        rows = rows | Party.objects.filter(email__iexact=email.strip())
    if telephone.strip():
        rows = rows | Party.objects.filter(telephone=telephone.strip())
    return list(rows.distinct()[:5])


def party_words(party: Party) -> str:
    return ", ".join(part for part in (party.name, party.telephone, party.email) if part)


class NewVehicleForm(VehicleForm, KnownParty):
    """Vehicle, plate and holder in one go. The holder may stay empty and be recorded later."""

    plate = forms.CharField(
        label=gettext_lazy("Plate"),
        max_length=20,
        required=False,
        widget=forms.TextInput(
            attrs={"autocapitalize": "characters", "autocomplete": "off", "spellcheck": "false"}
        ),
    )
    holder_name = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=160,
        required=False,
        help_text=gettext_lazy("Whom the warranty is given to. Needed at handover, not before."),
    )
    holder_kind = forms.ChoiceField(
        label=gettext_lazy("Person or firm"),
        choices=PARTY_KINDS,
        widget=forms.RadioSelect,
        initial=Party.Kind.PERSON,
    )
    holder_telephone = forms.CharField(label=gettext_lazy("Telephone"), max_length=40, required=False)
    holder_email = forms.EmailField(label=gettext_lazy("E-mail"), required=False)

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        if self.is_bound:
            names = ("holder_name", "holder_email", "holder_telephone")
            name, email, telephone = (str(self.data.get(key, "")) for key in names)
            self.ask_known(name, email, telephone)

    def clean(self) -> dict[str, Any]:
        values = super().clean()
        self.check_plate(values)
        return values

    def check_plate(self, values: dict[str, Any]) -> None:
        """The same plate on another vehicle: either it is that vehicle, or the plate moved."""
        plate = searched_form(values.get("plate", ""))
        there = Plate.objects.filter(searched=plate, until__isnull=True).select_related("vehicle").first()
        self.same_plate = there.vehicle if plate and there else None
        if self.same_plate and not self.data.get("plate_moved"):
            self.add_error("plate", _("This plate is recorded on another vehicle."))

    def party_values(self) -> dict[str, Any]:
        values = self.cleaned_data
        firm = values["holder_kind"] == Party.Kind.FIRM
        return {
            "name": values["holder_name"],
            "kind": values["holder_kind"],
            "telephone": values["holder_telephone"],
            "email": values["holder_email"],
            "is_consumer": not firm,
        }


class PlateForm(forms.Form):
    plate = forms.CharField(
        label=gettext_lazy("Plate"),
        max_length=20,
        required=False,
        help_text=gettext_lazy(
            "Empty takes the plate off. The old one keeps its dates and still finds the vehicle."
        ),
    )
    since = DayField(label=gettext_lazy("From"))
    moved = forms.BooleanField(
        label=gettext_lazy("If another vehicle carries this plate, it ends there"),
        required=False,
        initial=True,
    )


def role_choices() -> list[tuple[str, str]]:
    return [(str(role), first_upper(str(role.label))) for role in Holding.Role]


class HolderForm(PartyFields, KnownParty):
    """Somebody takes a role from a day on."""

    role = forms.ChoiceField(label=gettext_lazy("Role"), choices=role_choices, widget=forms.RadioSelect)
    since = DayField(label=gettext_lazy("From"))
    field_order = ["role", "since"]

    def __init__(self, *args: Any, today: date, **more: Any) -> None:
        super().__init__(*args, **more)
        self.initial.setdefault("since", today)
        self.initial.setdefault("role", Holding.Role.HOLDER)
        if self.is_bound:
            name, email, telephone = (str(self.data.get(key, "")) for key in ("name", "email", "telephone"))
            self.ask_known(name, email, telephone)
