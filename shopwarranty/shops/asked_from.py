"""Where a request comes from."""

from django.conf import settings
from django.http import HttpRequest


def asked_from(request: HttpRequest) -> str:
    """The address asked from; behind our own proxy, the one that it names last."""
    forwarded = request.META.get("HTTP_X_FORWARDED_FOR", "")
    if forwarded and getattr(settings, "SECURE_PROXY_SSL_HEADER", None):
        return str(forwarded).rsplit(",", 1)[-1].strip()
    return str(request.META.get("REMOTE_ADDR", ""))
