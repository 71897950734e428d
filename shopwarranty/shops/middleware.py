"""Finds shop and member from the address, enters the shop's scope, lets nobody in without a stated role."""

from collections.abc import Callable
from typing import Any

from django.contrib.auth.views import redirect_to_login
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import Resolver404, resolve
from django.utils import timezone, translation

from . import bay, security_log
from .access import ROLES_OF, Refused
from .models import Member
from .scope import every_shop, shop_scope

Handler = Callable[[HttpRequest], HttpResponse]


class ShopMiddleware:
    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.shop = request.member = None  # type: ignore[attr-defined]
        request.now = timezone.now()  # type: ignore[attr-defined]
        slug = slug_of(request)
        if slug is None:
            return self.get_response(request)
        if not request.user.is_authenticated:
            return self.on_device(request, slug)
        member = membership(request.user.pk, slug)
        if member is None:
            raise Http404
        return self.inside(request, member)

    def on_device(self, request: Any, slug: str) -> HttpResponse:
        """Nobody is signed in: a device of the bay with somebody at it, or with nobody, or a stranger."""
        if member := bay.member_at(request, slug):
            return self.inside(request, member)
        device = bay.device_of(request)
        if device and device.shop.slug != slug:
            raise Http404
        if device:
            return redirect("bay-door")
        return redirect_to_login(request.get_full_path())

    def inside(self, request: Any, member: Member) -> HttpResponse:
        request.member, request.shop = member, member.shop
        request.today = request.now.astimezone(member.shop.zone).date()
        with (
            shop_scope(member.shop),
            timezone.override(member.shop.zone),
            translation.override(getattr(member.user, "language", "") or member.shop.language),
        ):
            response = self.get_response(request)
            if hasattr(response, "render") and not getattr(response, "is_rendered", True):
                response.render()
            return response

    def process_view(self, request: Any, view: Any, args: Any, kwargs: dict[str, Any]) -> None:
        if request.shop is None:
            return
        kwargs.pop("shop", None)
        allowed = getattr(view, ROLES_OF, None)
        if allowed is None or not allowed & request.member.roles:
            security_log.refused(request.member, request.resolver_match.route)
            raise Refused


def slug_of(request: HttpRequest) -> str | None:
    try:
        slug: str | None = resolve(request.path_info).kwargs.get("shop")
    except Resolver404:
        return None
    return slug


def membership(user_id: int, slug: str) -> Member | None:
    with every_shop():
        rows = Member.objects.select_related("shop", "user")
        member: Member | None = rows.filter(user_id=user_id, shop__slug=slug, left_at__isnull=True).first()
    return member
