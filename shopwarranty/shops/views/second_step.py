"""The second step of signing in, and how a person sets it up and takes it away."""

import time
from typing import Any, Final

from django import forms
from django.contrib.auth import login
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from shopwarranty.web.notices import tell

from .. import second_step
from ..models import User

KNOCKING: Final = "knocking"
PATIENCE: Final = 600  # seconds between password and code
PASSWORDS: Final = "django.contrib.auth.backends.ModelBackend"


class CodeForm(forms.Form):
    code = forms.CharField(
        label=gettext_lazy("Code"),
        max_length=20,
        widget=forms.TextInput(
            attrs={"autocomplete": "one-time-code", "autofocus": True, "spellcheck": "false"}
        ),
    )


def wrong_code(form: forms.Form) -> None:
    form.add_error(
        "code", _("This code is not right, or came too soon after a wrong one. Wait for the next code.")
    )


def ask(request: Any, user: Any, after: str) -> HttpResponse:
    """The password was right: the code comes next, and only then is anybody signed in."""
    request.session[KNOCKING] = [user.pk, int(time.time()), after]
    return redirect("second-step")


def knocking(request: Any) -> tuple[User, str] | None:
    pk, at, after = request.session.get(KNOCKING) or (0, 0, "")
    user = User.objects.filter(pk=pk, is_active=True).first()
    return (user, after) if user and time.time() - at < PATIENCE else None


@never_cache
@require_http_methods(["GET", "POST"])
def code(request: Any) -> HttpResponse:
    found = knocking(request)
    if found is None:
        return redirect("sign-in")
    user, after = found
    form = CodeForm(request.POST or None)
    if form.is_valid():
        if second_step.is_right(user, form.cleaned_data["code"]):
            login(request, user, backend=PASSWORDS)
            request.session.pop(KNOCKING, None)
            request.session[second_step.DONE] = True
            return redirect(after)
        wrong_code(form)
    return render(request, "shops/second_step.html", {"form": form})


@never_cache
@login_required
@require_http_methods(["GET", "POST"])
def set_up(request: Any) -> HttpResponse:
    """Where it is set up already, only somebody who has the present one may change it."""
    user = request.user
    if second_step.is_set_up(user):
        return change(request)
    form = CodeForm(request.POST or None)
    if form.is_valid():
        codes = second_step.finish(user, form.cleaned_data["code"])
        if codes:
            request.session[second_step.DONE] = True
            return render(request, "shops/recovery_codes.html", {"codes": codes})
        wrong_code(form)
    device = second_step.being_set_up(user)
    picture = mark_safe(second_step.picture_of(device))  # noqa: S308 - made here, from our own secret
    context = {"form": form, "picture": picture, "secret": second_step.secret_of(device)}
    return render(request, "shops/second_step_set_up.html", context)


def change(request: Any) -> HttpResponse:
    """New recovery codes, or none of it any more; both ask for a code."""
    form = CodeForm(request.POST or None)
    if form.is_valid():
        if second_step.is_right(request.user, form.cleaned_data["code"]):
            return changed(request)
        wrong_code(form)
    context = {"form": form, "left": second_step.codes_left(request.user)}
    return render(request, "shops/second_step_change.html", context)


def changed(request: Any) -> HttpResponse:
    if request.POST.get("act") == "off":
        second_step.take_away(request.user)
        request.session.pop(second_step.DONE, None)
        tell(request, _("Signing in asks for the password alone from now on."))
        return redirect("home")
    codes = second_step.new_recovery_codes(request.user)
    return render(request, "shops/recovery_codes.html", {"codes": codes})
