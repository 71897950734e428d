"""Devices of the bay: an owner's list of them, a member's PIN, and the device's own door."""

from typing import Any, Final

import segno
from django import forms
from django.conf import settings
from django.contrib.auth import logout
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import translation
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.utils.translation import pgettext_lazy as _p
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from shopwarranty.web.notices import tell

from .. import bay
from ..access import ANYONE, OWNER, actor_of, allow
from ..models import BayDevice
from ..scope import every_shop, shop_scope

PICTURE_WORDS: Final = {
    "disc": _p("picture of a member", "disc"),
    "ring": _p("picture of a member", "ring"),
    "square": _p("picture of a member", "square"),
    "triangle": _p("picture of a member", "triangle"),
    "cross": _p("picture of a member", "cross"),
    "wave": _p("picture of a member", "wave"),
    "drop": _p("picture of a member", "drop"),
    "half": _p("picture of a member", "half disc"),
}


def pin_input(**more: str) -> forms.PasswordInput:
    return forms.PasswordInput(
        attrs={"inputmode": "numeric", "autocomplete": "off", "maxlength": "6", **more}
    )


class DeviceForm(forms.Form):
    name = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=60,
        help_text=gettext_lazy("Where it lies, such as “Tablet, bay 2”."),
    )


class PinForm(forms.Form):
    picture = forms.ChoiceField(
        label=gettext_lazy("Your picture"), choices=list(PICTURE_WORDS.items()), widget=forms.RadioSelect
    )
    pin = forms.RegexField(
        r"^\d{6}$",
        label=gettext_lazy("PIN"),
        widget=pin_input(),
        help_text=gettext_lazy("Six digits."),
        error_messages={"invalid": gettext_lazy("A PIN is six digits.")},
    )
    again = forms.CharField(label=gettext_lazy("The same PIN again"), widget=pin_input())

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or self.cleaned_data
        if values.get("pin") and values["pin"] != values.get("again"):
            self.add_error("again", _("This is not the same."))
        return values


class SwitchForm(forms.Form):
    pin = forms.CharField(label=gettext_lazy("PIN"), max_length=6, widget=pin_input(autofocus="autofocus"))


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def bay_devices(request: Any) -> HttpResponse:
    """The list, and a new one: its address is shown once."""
    form, new = DeviceForm(request.POST or None), None
    if form.is_valid():
        name = form.cleaned_data["name"]
        device, token = bay.offer_device(name=name, actor=actor_of(request), now=request.now)
        new, form = offered_page(request, device, token), DeviceForm()
    in_use = BayDevice.objects.select_related("enrolled_by").filter(used_since__isnull=False)
    context = {
        "form": form,
        "new": new,
        "devices": list(in_use.filter(revoked_at__isnull=True).order_by("name", "pk")),
        "revoked": list(in_use.filter(revoked_at__isnull=False).order_by("-revoked_at")[:20]),
        "section": "shop-settings",
    }
    return render(request, "shops/bay_devices.html", context)


def offered_page(request: Any, device: BayDevice, token: str) -> dict[str, Any]:
    link = request.build_absolute_uri(reverse("bay-enrol", args=[token]))
    code = segno.make(link, error="m")
    picture = mark_safe(str(code.svg_inline(scale=5, border=4, light="#fff", svgclass="qr", title="QR")))  # noqa: S308
    return {"device": device, "link": link, "picture": picture}


@require_POST
@allow(OWNER)
def revoke(request: Any, pk: int) -> HttpResponse:
    device = get_object_or_404(BayDevice.objects.all(), pk=pk)
    bay.revoke_device(device=device, actor=actor_of(request), now=request.now)
    tell(request, _("%(device)s opens nothing any more.") % {"device": device.name})
    return redirect("bay-devices", request.shop.slug)


@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def bay_pin(request: Any) -> HttpResponse:
    """One's own PIN for the shop's devices."""
    form = PinForm(request.POST or None, initial={"picture": request.member.bay_picture})
    if form.is_valid():
        pin, picture = form.cleaned_data["pin"], form.cleaned_data["picture"]
        try:
            bay.set_pin(
                member=request.member, pin=pin, picture=picture, actor=actor_of(request), now=request.now
            )
        except bay.PinTooEasy:
            form.add_error("pin", _("Anybody would try this one first. Choose another."))
        else:
            tell(request, _("Your PIN is set. It works on the devices of the bay, and nowhere else."))
            return redirect("account", request.shop.slug)
    return render(request, "shops/bay_pin.html", {"form": form, "section": "account"})


@never_cache
@require_http_methods(["GET", "POST"])
def enrol(request: Any, token: str) -> HttpResponse:
    """Opening the address changes nothing; the press does, once."""
    try:
        device = bay.offered(token, request.now)
        if request.method != "POST":
            return render(request, "shops/bay_enrol.html", {"device": device})
        with shop_scope(device.shop_id):
            key = bay.take_into_use(device=device, now=request.now)
    except bay.EnrolmentOver as over:
        raise Http404 from over
    logout(request)
    answer = redirect("bay-door")
    name, secure = bay.cookie_name(), request.is_secure() or settings.SESSION_COOKIE_SECURE
    answer.set_cookie(name, key, max_age=bay.COOKIE_AGE, httponly=True, secure=secure, samesite="Lax")
    return answer


def the_device(request: Any) -> BayDevice:
    device = bay.device_of(request)
    if device is None:
        raise Http404
    return device


@never_cache
@require_http_methods(["GET"])
def door(request: Any) -> HttpResponse:
    """Whoever works here presses their picture."""
    device = the_device(request)
    with every_shop(), translation.override(device.shop.language):
        return render(
            request, "shops/bay_door.html", {"device": device, "members": list(bay.those_with_a_pin(device))}
        )


@sensitive_post_parameters()
@never_cache
@require_http_methods(["GET", "POST"])
def switch(request: Any, pk: int) -> HttpResponse:
    device, form = the_device(request), SwitchForm(request.POST or None)
    with every_shop(), translation.override(device.shop.language):
        member = get_object_or_404(bay.those_with_a_pin(device), pk=pk)
        try:
            if form.is_valid() and bay.switch_to(request, device, member, form.cleaned_data["pin"]):
                return redirect("bay-home", device.shop.slug)
        except bay.TooManyTries:
            return render(request, "shops/too_often.html", status=429)
        if form.is_bound and form.is_valid():
            form.add_error("pin", _("This PIN is not right."))
        return render(request, "shops/bay_switch.html", {"device": device, "who": member, "form": form})


@require_POST
def leave(request: Any) -> HttpResponse:
    bay.leave(request)
    return redirect("bay-door")
