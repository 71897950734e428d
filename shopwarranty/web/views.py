"""Error pages in plain words, and the choice of colours."""

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.csrf import requires_csrf_token
from django.views.decorators.http import require_POST

from shopwarranty.web.themes import keep_theme

__all__ = ["bad_request", "csrf_failure", "not_found", "refused", "server_error", "theme"]


@requires_csrf_token
def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "web/400.html", status=400)


@requires_csrf_token
def refused(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "web/403.html", status=403)


@requires_csrf_token
def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "web/404.html", status=404)


@requires_csrf_token
def server_error(request: HttpRequest) -> HttpResponse:
    """No context processors here: whatever broke may be what they read."""
    return HttpResponse(render_to_string("web/500.html"), status=500)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The page was open too long, or cookies are off. What was typed is still in the browser."""
    return render(request, "web/403_csrf.html", status=403)


@require_POST
def theme(request: HttpRequest) -> HttpResponse:
    """Keeps the colours for this device and returns to the page."""
    onward = request.POST.get("next", "")
    hosts = {request.get_host()}
    safe = url_has_allowed_host_and_scheme(onward, allowed_hosts=hosts, require_https=request.is_secure())
    response = HttpResponseRedirect(onward if safe else "/")
    keep_theme(response, request.POST.get("theme", ""))
    return response
