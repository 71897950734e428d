"""Who belongs to the shop, one's own sign-in, and the history."""

from typing import Any

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.forms import PasswordChangeForm
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.web.notices import tell

from .. import actions
from ..access import ANYONE, OWNER, actor_of, allow
from ..forms import AccountForm, InviteForm, MemberForm, chosen_roles
from ..models import Change, Invitation, Member


@require_GET
@allow(OWNER)
def members(request: Any) -> HttpResponse:
    rows = list(Member.objects.select_related("user"))
    waiting = Invitation.objects.filter(
        accepted_at__isnull=True, withdrawn_at__isnull=True, expires_at__gt=request.now
    )
    here = [row for row in rows if row.left_at is None]
    gone = [row for row in rows if row.left_at is not None]
    return render(request, "shops/members.html", {"here": here, "gone": gone, "waiting": list(waiting)})


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def invite(request: Any) -> HttpResponse:
    form = InviteForm(request.POST or None)
    if form.is_valid():
        try:
            invitation, token = actions.invite(**form.cleaned_data, actor=actor_of(request), now=request.now)
        except actions.AlreadyMember:
            form.add_error("email", _("This person already belongs to the shop."))
        else:
            link = request.build_absolute_uri(reverse("join", args=[token]))
            return render(
                request, "shops/invited.html", {"invitation": invitation, "link": link, "section": "members"}
            )
    return render(request, "shops/invite.html", {"form": form, "section": "members"})


@require_POST
@allow(OWNER)
def withdraw(request: Any, pk: int) -> HttpResponse:
    invitation = get_object_or_404(Invitation.objects.all(), pk=pk)
    actions.withdraw_invitation(invitation=invitation, actor=actor_of(request), now=request.now)
    tell(request, _("The invitation to %(email)s no longer works.") % {"email": invitation.email})
    return redirect("members", request.shop.slug)


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def member(request: Any, pk: int) -> HttpResponse:
    row = get_object_or_404(Member.objects.all(), pk=pk)
    form = MemberForm(request.POST or None, initial={"name": row.name, "roles": chosen_roles(row)})
    if form.is_valid():
        try:
            actions.change_member(member=row, **form.cleaned_data, actor=actor_of(request), now=request.now)
        except actions.LastOwner:
            form.add_error("roles", _("The shop needs an owner. Make somebody else owner first."))
        else:
            tell(request, _("Saved."))
            return redirect("members", request.shop.slug)
    return render(request, "shops/member.html", {"row": row, "form": form, "section": "members"})


@require_POST
@allow(OWNER)
def member_leaves(request: Any, pk: int) -> HttpResponse:
    row = get_object_or_404(Member.objects.all(), pk=pk)
    try:
        actions.end_membership(member=row, actor=actor_of(request), now=request.now)
    except actions.LastOwner:
        tell(request, _("The shop needs an owner. Make somebody else owner first."), level=messages.ERROR)
    else:
        undo = reverse("member-back", args=[request.shop.slug, pk])
        tell(request, _("%(name)s can no longer sign in.") % {"name": row.name}, undo_url=undo)
    return redirect("members", request.shop.slug)


@require_POST
@allow(OWNER)
def member_back(request: Any, pk: int) -> HttpResponse:
    row = get_object_or_404(Member.objects.all(), pk=pk)
    actions.take_back(member=row, actor=actor_of(request), now=request.now)
    tell(request, _("%(name)s can sign in again.") % {"name": row.name})
    return redirect("members", request.shop.slug)


@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def account(request: Any) -> HttpResponse:
    """Name and language; the password has its own form on the same page."""
    changes_password = "new_password1" in request.POST
    form = AccountForm(None if changes_password else request.POST or None, instance=request.user)
    password = PasswordChangeForm(request.user, request.POST if changes_password else None)
    password.fields["old_password"].widget.attrs.pop("autofocus", None)  # the page is read from its top
    if changes_password and password.is_valid():
        password.save()
        update_session_auth_hash(request, request.user)
        tell(request, _("The new password is in use. Other devices are signed out."))
        return redirect("account", request.shop.slug)
    if not changes_password and form.is_valid():
        form.save()
        tell(request, _("Saved."))
        return redirect("account", request.shop.slug)
    return render(request, "shops/account.html", {"form": form, "password": password})


@require_GET
@allow(OWNER)
def history(request: Any) -> HttpResponse:
    rows = Change.objects.all()
    if wanted := request.GET.get("who", "").strip():
        rows = rows.filter(who__icontains=wanted)
    page = Paginator(rows, 50).get_page(request.GET.get("page"))
    return render(request, "shops/history.html", {"page": page, "who": wanted})
