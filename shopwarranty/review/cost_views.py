"""The owner's page for what a lift and a check cost."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from shopwarranty.shops.access import OWNER, actor_of, allow
from shopwarranty.web.notices import tell

from .actions import set_check_costs
from .cost_forms import CostsForm
from .models import CheckCosts


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def check_costs(request: Any) -> HttpResponse:
    form = CostsForm(request.POST or None, shop=request.shop, costs=CheckCosts.objects.first())
    if form.is_valid():
        set_check_costs(**form.cleaned_data, actor=actor_of(request), now=request.now)
        tell(request, _("Saved. The review goes by these costs from now on."))
        return redirect("review", request.shop.slug)
    return render(request, "review/costs.html", {"form": form, "section": "review"})
