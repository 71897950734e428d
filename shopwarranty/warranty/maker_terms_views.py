"""Film makers' own terms at the desk: kept by their bytes, listed by film and date."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from shopwarranty.films.models import MakerTerms
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.access import ANYONE, OWNER, actor_of, allow
from shopwarranty.web.notices import tell

from .forms import MakerTermsForm
from .maker_terms import NotReadable, TermsFile, TermsKnown, keep_terms


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def maker_terms(request: Any) -> HttpResponse:
    form = MakerTermsForm(request.POST or None, request.FILES or None, initial={"dated": request.today})
    if request.method == "POST" and form.is_valid() and kept(request, form):
        return redirect("maker-terms", request.shop.slug)
    rows = MakerTerms.objects.select_related("product").order_by("product__maker", "product__name", "-dated")
    page = Paginator(rows, 50).get_page(request.GET.get("page"))
    return render(request, "warranty/maker_terms.html", {"page": page, "form": form, "section": "plans"})


def kept(request: Any, form: MakerTermsForm) -> bool:
    said = form.cleaned_data
    file = TermsFile(said["file"].name, said["file"].read())
    names = ("product", "title", "dated", "months", "report_days", "answer_days")
    more = {name: said[name] for name in names}
    try:
        keep_terms(file=file, **more, actor=actor_of(request), now=request.now)
    except NotReadable:
        form.add_error("file", _("This is neither a PDF nor plain text. Print it to a PDF and try again."))
        return False
    except TermsKnown:
        form.add_error("file", _("This file is kept for this film with this date already."))
        return False
    tell(request, _("Kept. Certificates from that day on name these terms where the maker promises."))
    return True


@require_GET
@allow(ANYONE)
def maker_terms_file(request: Any, pk: int) -> HttpResponse:
    """The stored bytes, exactly."""
    row = get_object_or_404(MakerTerms.objects.all(), pk=pk)
    try:
        file = TermsFile(row.file_name, stored_bytes.read(row.sha256))
        kind = file.content_type
    except (stored_bytes.DamagedFile, NotReadable):
        tell(
            request, _("The stored file is damaged or gone. Restore it from a backup."), level=messages.ERROR
        )
        return redirect("maker-terms" if request.member.is_owner else "films", request.shop.slug)
    response = HttpResponse(file.content, content_type=f"{kind}; charset=utf-8" if "text" in kind else kind)
    ending = "pdf" if kind == "application/pdf" else "txt"
    response["Content-Disposition"] = f'inline; filename="maker-terms-{row.pk}.{ending}"'
    response["Cache-Control"] = "private, no-store"
    response["X-Content-Type-Options"] = "nosniff"
    return response
