"""What the operator sees. Records of shops are read-only: acts belong to the shop's own pages."""

from typing import Any

from django.apps import apps
from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.contrib.auth.models import Group
from django.db import models
from django.http import HttpRequest
from django.utils.translation import pgettext_lazy

from .models import Shop, User


class ReadOnly(admin.ModelAdmin):  # type: ignore[type-arg]
    """Shows rows and never writes them: acts belong to the shop's own pages, with their history."""

    list_per_page = 50
    show_full_result_count = False

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def get_list_display(self, request: HttpRequest) -> Any:
        fields = self.model._meta.concrete_fields
        return ["pk", *(f.name for f in fields if not f.primary_key and f.get_internal_type() in SHORT)][:8]

    def get_list_select_related(self, request: HttpRequest) -> Any:
        return [f.name for f in self.model._meta.concrete_fields if isinstance(f, models.ForeignKey)][:4]


SHORT = {"CharField", "ForeignKey", "DateField", "DateTimeField", "PositiveSmallIntegerField", "SlugField"}


class People(UserAdmin):  # type: ignore[type-arg]
    """Who signs in: the operator may name an operator, or stop a sign-in."""

    ordering = ("email",)
    list_display = ("email", "name", "is_active", "is_staff", "last_login")
    search_fields = ("email", "name")
    fieldsets = (
        (None, {"fields": ("email", "name", "language", "password")}),
        (pgettext_lazy("what somebody may do", "May"), {"fields": ("is_active", "is_staff", "is_superuser")}),
    )
    add_fieldsets = ((None, {"fields": ("email", "name", "password1", "password2")}),)
    list_filter = ("is_staff", "is_active")
    filter_horizontal = ()


class Shops(admin.ModelAdmin):  # type: ignore[type-arg]
    """Shops are opened by `add_shop` and changed by their owners; the operator reads."""

    list_display = ("slug", "name", "time_zone", "legal_profile", "created_at")
    search_fields = ("slug", "name")

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


def register_all() -> None:
    """Every table of ours is there to read; people are there to change."""
    if admin.site.is_registered(Group):
        admin.site.unregister(Group)
    admin.site.register(User, People)
    admin.site.register(Shop, Shops)
    for model in apps.get_models():
        ours = model.__module__.startswith("shopwarranty.")
        if ours and not admin.site.is_registered(model):
            admin.site.register(model, ReadOnly)


register_all()
