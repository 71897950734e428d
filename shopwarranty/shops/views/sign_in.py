"""Getting in: signing in, the first password, joining by invitation, and choosing a shop."""

from collections.abc import Callable
from datetime import timedelta
from functools import partial
from typing import Any, Final

from django.contrib.auth import login, views
from django.contrib.auth.decorators import login_required
from django.contrib.auth.forms import SetPasswordForm
from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import reverse, reverse_lazy
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from .. import second_step
from ..actions import InvitationOver, accept_invitation, hashed
from ..asking import times_asked
from ..forms import JoinForm
from ..models import Invitation, Member, User
from ..scope import every_shop, shop_scope
from . import second_step as asked_second

HOUR: Final = timedelta(hours=1)
FORGOT_AN_HOUR: Final = 5


class SignIn(views.LoginView):
    template_name = "shops/sign_in.html"
    redirect_authenticated_user = True

    def form_valid(self, form: Any) -> HttpResponse:
        user = form.get_user()
        if second_step.is_set_up(user):
            return asked_second.ask(self.request, user, self.get_success_url())
        return super().form_valid(form)


def too_often(request: Any, _seen: object = None, _credentials: object = None) -> HttpResponse:
    """The same words whether the name exists or not."""
    return render(request, "shops/too_often.html", status=429)


class Welcome(views.PasswordResetConfirmView):
    """The one-time link: choose a password and be in."""

    template_name = "shops/welcome.html"
    post_reset_login = True
    post_reset_login_backend = "django.contrib.auth.backends.ModelBackend"
    success_url = reverse_lazy("home")

    def form_valid(self, form: Any) -> HttpResponse:
        """A new password is no second step: who has one set up signs in with it afterwards."""
        if second_step.is_set_up(self.user):
            self.post_reset_login = False
        return super().form_valid(form)


class ForgotPassword(views.PasswordResetView):
    template_name = "shops/forgot.html"
    email_template_name = "shops/forgot_mail.txt"
    subject_template_name = "shops/forgot_subject.txt"
    success_url = reverse_lazy("forgot-sent")

    def form_valid(self, form: Any) -> HttpResponse:
        """Whether there is such a person is looked up when the answer is on its way: it tells nothing.

        One address is written to a few times an hour, whoever asks.
        """
        answer = AnswerThenWork(self.get_success_url())
        often = times_asked("forgot", form.cleaned_data["email"].lower(), now=timezone.now(), within=HOUR)
        if often <= FORGOT_AN_HOUR:
            answer.work = partial(self.write, form)
        return answer

    def write(self, form: Any) -> None:
        form.save(
            use_https=self.request.is_secure(),
            token_generator=self.token_generator,
            email_template_name=self.email_template_name,
            subject_template_name=self.subject_template_name,
            request=self.request,
        )


class AnswerThenWork(HttpResponseRedirect):
    """The server closes an answer when all of it was sent; the work is done then."""

    work: Callable[[], None] | None = None

    def close(self) -> None:
        work, self.work = self.work, None
        if work is not None:
            work()
        super().close()


class ForgotSent(views.PasswordResetDoneView):
    template_name = "shops/forgot_sent.html"


@login_required
def home(request: Any) -> HttpResponse:
    """The one shop a person belongs to, else the choice."""
    with every_shop():
        found = Member.objects.select_related("shop").filter(user=request.user, left_at__isnull=True)
        members = list(found.order_by("shop__name"))
    if len(members) == 1:
        return redirect("today", members[0].shop.slug)
    return render(request, "shops/choose.html", {"members": members})


def open_invitation(token: str, now: Any) -> Invitation:
    with every_shop():
        rows = Invitation.objects.select_related("shop")
        found: Invitation | None = rows.filter(
            token_hash=hashed(token), accepted_at__isnull=True, withdrawn_at__isnull=True, expires_at__gt=now
        ).first()
    if found is None:
        raise Http404
    return found


@sensitive_post_parameters()
@never_cache
@require_http_methods(["GET", "POST"])
def join(request: Any, token: str) -> HttpResponse:
    """Somebody known joins with one press after signing in; somebody new gives a name and a password."""
    invitation = open_invitation(token, request.now)
    known = User.objects.filter(email=invitation.email).first()
    if known and known.has_usable_password() and request.user != known:
        if request.user.is_authenticated:  # the sign-in page would send them straight back here
            return render(request, "shops/join_other.html", {"invitation": invitation})
        return redirect(f"{reverse('sign-in')}?next={request.path}")
    user = known or User(email=invitation.email, name=invitation.name)
    needs_password = not user.has_usable_password() if user.pk else True
    name_form = JoinForm(request.POST or None, initial={"name": user.name})
    password_form = SetPasswordForm(user, request.POST or None) if needs_password else None
    context = {
        "invitation": invitation,
        "name_form": name_form,
        "password_form": password_form,
        "user_known": known,
    }
    if request.method != "POST" or not all(form.is_valid() for form in (name_form, password_form) if form):
        return render(request, "shops/join.html", context)
    return enter(request, invitation, user, name_form.cleaned_data["name"], password_form)


def enter(request: Any, invitation: Invitation, user: User, name: str, password_form: Any) -> HttpResponse:
    user.name = name
    if password_form:
        password_form.save()
    else:
        user.save(update_fields=["name"])
    with shop_scope(invitation.shop_id):
        try:
            accept_invitation(invitation=invitation, user=user, now=request.now)
        except InvitationOver as over:
            raise Http404 from over
    login(request, user, backend="django.contrib.auth.backends.ModelBackend")
    return redirect("today", invitation.shop.slug)
