"""What the promises cost: the page, rows behind each figure, files, and since when claims are kept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_http_methods

from shopwarranty.shops.access import DESK, OWNER, actor_of, allow
from shopwarranty.web.fields import DayField
from shopwarranty.web.notices import tell

from ..actions import set_claims_since
from ..file_views import XLSX, as_file
from ..models import ClaimsOnRecord
from ..words import Words
from .asked import AskedForm
from .behind import Filters, NoSuchFigure, heading_of, ids_behind, lines_of
from .counting import Counting, counting
from .files import ages_csv, costs_csv, workbook
from .page import context_of, page_of, work
from .record import load_promises

PER_PAGE = 50


@dataclass(frozen=True, slots=True, eq=False)
class Opened:
    form: AskedForm
    counting: Counting
    words: Words


def opened_by(request: Any) -> Opened:
    record, words = load_promises(request.shop), Words(request.shop, {}, {})
    said = {key: request.GET[key] for key in ("family", "since", "until") if request.GET.get(key)}
    form = AskedForm(said, families=[(key, words.family(key)) for key in record.families])
    return Opened(form, counting(record, form.asked(), request.today), words)


@require_GET
@allow(DESK)
def promise_costs(request: Any) -> HttpResponse:
    opened = opened_by(request)
    context = context_of(work(opened.counting), request.shop, opened.words)
    more = {"form": opened.form, "query": urlencode(opened.counting.asked.query()), "section": "review"}
    return render(request, "review/promises/page.html", context | more)


@require_GET
@allow(DESK)
def behind(request: Any) -> HttpResponse:
    opened = opened_by(request)
    try:
        asked = Filters.of(request.GET.dict())
    except NoSuchFigure as wrong:
        raise Http404 from wrong
    ids = ids_behind(opened.counting, asked)
    part = Paginator(ids, PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "part": part,
        "lines": lines_of(asked, list(part.object_list), opened.counting, request.shop, opened.words),
        "heading": heading_of(asked, len(ids), opened.words),
        "what": asked.what,
        "query": urlencode(opened.counting.asked.query()),
        "section": "review",
    }
    return render(request, "review/promises/behind.html", context)


@require_GET
@allow(DESK)
def ages_file(request: Any) -> HttpResponse:
    worked = work(opened_by(request).counting)
    return as_file(ages_csv(worked), "text/csv; charset=utf-8", "claims-by-age.csv")


@require_GET
@allow(DESK)
def costs_file(request: Any) -> HttpResponse:
    opened = opened_by(request)
    text = costs_csv(work(opened.counting), request.shop, opened.words)
    return as_file(text, "text/csv; charset=utf-8", "promise-costs.csv")


@require_GET
@allow(DESK)
def workbook_file(request: Any) -> HttpResponse:
    opened = opened_by(request)
    worked = work(opened.counting)
    page = page_of(worked, request.shop, opened.words)
    content = workbook(worked, page, request.shop, opened.words, request.now)
    return as_file(content, XLSX, "promise-costs.xlsx")


class SinceForm(forms.Form):
    since = DayField(
        label=gettext_lazy("Every claim since this day is on record here"),
        help_text=gettext_lazy(
            "Also those of jobs that were imported. Type in the ones kept elsewhere first."
        ),
    )

    def __init__(self, said: Any, *, today: Any, initial: Any) -> None:
        super().__init__(said, initial=initial)
        self.today = today

    def clean_since(self) -> Any:
        if self.cleaned_data["since"] > self.today:
            raise forms.ValidationError(_("This day is still to come."))
        return self.cleaned_data["since"]


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def claims_since(request: Any) -> HttpResponse:
    said = ClaimsOnRecord.objects.first()
    form = SinceForm(
        request.POST or None, today=request.today, initial={"since": said.since} if said else None
    )
    if form.is_valid():
        set_claims_since(**form.cleaned_data, actor=actor_of(request), now=request.now)
        tell(request, _("Saved. Claims of imported jobs count from this day on."))
        return redirect("promise-costs", request.shop.slug)
    return render(request, "review/promises/since.html", {"form": form, "section": "review"})
