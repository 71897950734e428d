"""The operator's site: its pages see all shops."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib import admin
from django.contrib.auth.views import redirect_to_login
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from . import second_step
from .scope import every_shop


class OperatorSite(admin.AdminSite):
    site_header = _("Operator")
    site_title = _("Operator")
    index_title = _("All shops of this installation")

    def has_permission(self, request: Any) -> bool:
        """An operator sees every shop, so a password alone does not do."""
        return super().has_permission(request) and second_step.was_done(request)

    def login(self, request: Any, extra_context: Any = None) -> Any:
        """One way in for everybody; an operator without a second step sets it up first."""
        if super().has_permission(request):
            return redirect("second-step-set-up")
        return redirect_to_login(reverse("admin:index"))

    def admin_view(self, view: Any, cacheable: bool = False) -> Any:
        return super().admin_view(across_shops(view), cacheable)


def across_shops(view: Callable[..., Any]) -> Callable[..., Any]:
    """Renders inside the scope too: admin pages are lazy responses."""

    @wraps(view)
    def inside(*args: Any, **kwargs: Any) -> Any:
        with every_shop():
            response = view(*args, **kwargs)
            if hasattr(response, "render") and not response.is_rendered:
                response.render()
            return response

    return inside
