"""What a shop signs with: the key in use, those before it, a new one, one of its own."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from shopwarranty.shops.access import OWNER, actor_of, allow
from shopwarranty.web.notices import tell

from .forms import OwnKeyForm
from .models import SigningKey
from .signing_keys import NotASigningKey, bring_key, make_key


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def signing(request: Any) -> HttpResponse:
    bringing = request.method == "POST" and "rotate" not in request.POST
    form = OwnKeyForm(request.POST if bringing else None, request.FILES if bringing else None)
    if request.method == "POST" and not bringing:
        make_key(shop=request.shop, actor=actor_of(request), now=request.now)
        tell(request, _("A new key is in use. What was signed before stays valid."))
        return redirect("signing", request.shop.slug)
    if bringing and form.is_valid() and brought(request, form):
        return redirect("signing", request.shop.slug)
    rows = SigningKey.objects.select_related("made_by").defer("sealed")
    return render(request, "warranty/signing.html", {"keys": list(rows), "form": form, "section": "plans"})


def brought(request: Any, form: OwnKeyForm) -> bool:
    said = form.cleaned_data
    try:
        bring_key(
            shop=request.shop,
            content=said["file"].read(1_000_000),
            password=said["password"],
            actor=actor_of(request),
            now=request.now,
        )
    except NotASigningKey:
        words = _("No elliptic-curve key with a valid certificate is in it, or the password is wrong.")
        form.add_error("file", words)
        return False
    tell(request, _("Your own key is in use from now on."))
    return True


@require_GET
@allow(OWNER)
def signing_certificate(request: Any, pk: int) -> HttpResponse:
    """The X.509 certificate, for whoever wants to trust it."""
    row = get_object_or_404(SigningKey.objects.defer("sealed"), pk=pk)
    response = HttpResponse(row.certificate_pem, content_type="application/x-pem-file")
    response["Content-Disposition"] = f'attachment; filename="signing-{row.fingerprint[:8]}.pem"'
    return response
