"""What every answer tells the browser, beside what Django and the content security policy say."""

from collections.abc import Callable
from typing import Final

from django.http import HttpRequest, HttpResponse

# No page uses any of these; photos come from the file picker, which needs no permission.
UNUSED: Final = (
    "accelerometer autoplay bluetooth camera display-capture encrypted-media fullscreen geolocation gyroscope"
    " hid idle-detection magnetometer microphone midi payment picture-in-picture"
    " publickey-credentials-create publickey-credentials-get screen-wake-lock serial usb web-share"
    " xr-spatial-tracking"
).split()
PERMISSIONS: Final = ", ".join(f"{name}=()" for name in UNUSED)
HEADERS: Final = {
    "Permissions-Policy": PERMISSIONS,
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Frame-Options": "DENY",
    "X-Permitted-Cross-Domain-Policies": "none",
}
# What is kept in the page cache must not come back on a shared machine; a phone's own photos stay.
AT_SIGN_OUT: Final = '"cache"'


class HeadersMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        answer = self.get_response(request)
        for name, value in HEADERS.items():
            answer.setdefault(name, value)
        if getattr(request.resolver_match, "url_name", None) == "sign-out":
            answer.setdefault("Clear-Site-Data", AT_SIGN_OUT)
        if not request.path_info.startswith("/static/"):
            answer.setdefault("Cache-Control", "private, no-cache")
        return answer
