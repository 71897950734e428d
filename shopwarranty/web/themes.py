"""Which colours: as the device wishes, or chosen. Kept per device: a bay's tablet is no desk."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext_lazy as _

COOKIE = "colours"
YEAR = 365 * 24 * 3600
THEMES = (
    ("", _("As the device")),
    ("light", _("Light")),
    ("dark", _("Dark")),
    ("contrast", _("Strong contrast")),
    ("contrast-dark", _("Strong contrast, dark")),
)
KNOWN = frozenset(word for word, _name in THEMES if word)


def cookie_name() -> str:
    return f"{settings.COOKIE_PREFIX}{COOKIE}"


def chosen_theme(request: HttpRequest) -> str:
    """The device's choice, else the person's, else none (the device decides by itself)."""
    cookie = request.COOKIES.get(cookie_name())
    word = cookie if cookie is not None else getattr(getattr(request, "user", None), "theme", "")
    return word if word in KNOWN else ""


def keep_theme(response: HttpResponse, word: str) -> None:
    response.set_cookie(
        cookie_name(),
        word if word in KNOWN else "",
        max_age=YEAR,
        samesite="Lax",
        httponly=True,
        secure=settings.SESSION_COOKIE_SECURE,
    )
