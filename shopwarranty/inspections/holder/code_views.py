"""From the public page of a certificate to the holder's own: a code goes to the stored contact."""

from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from shopwarranty.shops.asked_from import asked_from
from shopwarranty.shops.scope import shop_scope
from shopwarranty.warranty.forms import NumberForm
from shopwarranty.warranty.models import Certificate
from shopwarranty.warranty.public_views import found, kept_private

from .codes import LASTS, send_code, token_for


class CodeForm(forms.Form):
    typed = forms.CharField(
        label=gettext_lazy("Code from the mail"),
        max_length=20,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "one-time-code"}),
    )


# As on the other public pages: the address is told to nobody, so a form comes without an origin, and nothing
# here belongs to a session.
@csrf_exempt
@kept_private
@require_http_methods(["GET", "POST"])
def ask_code(request: Any, number: str, code: str) -> HttpResponse:
    """One press sends a code, or does not, and the answer is the same."""
    certificate = found(number, code)
    if certificate is None:
        return unknown(request, number)
    with shop_scope(certificate.shop), timezone.override(certificate.shop.zone):
        if request.method == "POST":
            send_code(certificate=certificate, asked_from=asked_from(request), now=request.now)
            return redirect("holder-enter", number, code)
        return render(request, "inspections/holder/ask_code.html", context_of(certificate))


@csrf_exempt
@kept_private
@require_http_methods(["GET", "POST"])
def enter_code(request: Any, number: str, code: str) -> HttpResponse:
    certificate = found(number, code)
    if certificate is None:
        return unknown(request, number)
    form = CodeForm(request.POST or None)
    with shop_scope(certificate.shop), timezone.override(certificate.shop.zone):
        if request.method == "POST" and form.is_valid():
            token = token_for(
                certificate=certificate,
                typed=form.cleaned_data["typed"],
                asked_from=asked_from(request),
                now=request.now,
            )
            if token:
                return redirect("holder", token)
            form.add_error("typed", _("This code does not open it. Look again, or ask for a new one."))
        return render(request, "inspections/holder/enter_code.html", context_of(certificate) | {"form": form})


def context_of(certificate: Certificate) -> dict[str, Any]:
    minutes = int(LASTS.total_seconds() // 60)
    return {"shop": certificate.shop, "certificate": certificate, "minutes": minutes}


def unknown(request: Any, number: str) -> HttpResponse:
    again = {"form": NumberForm(initial={"number": number[:40]})}
    return render(request, "warranty/public_unknown.html", again, status=404)
