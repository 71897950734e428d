"""The program on a phone's home screen: manifest, worker for kept pages, page without network."""

import json
from hashlib import sha256
from typing import Final

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

# What pages in the bay are made of; kept with the worker, so that a kept page looks and works as ever.
PARTS: Final = (
    "web/css/tokens.css",
    "web/css/base.css",
    "web/css/forms.css",
    "web/css/print.css",
    "web/css/drawing.css",
    "web/css/bay.css",
    "jobs/css/record.css",
    "jobs/css/photos.css",
    "defects/css/look.css",
    "web/js/once.js",
    "web/js/notices.js",
    "web/js/errors.js",
    "web/js/stepper.js",
    "web/js/unsaved.js",
    "web/js/undo.js",
    "web/js/sealed.js",
    "web/js/entries.js",
    "web/js/kept_photos.js",
    "web/js/phone.js",
    "web/js/kept_pages.js",
    "jobs/js/dew_point.js",
    "jobs/js/photo_queue.js",
    "defects/js/rulers.js",
    "web/mark.svg",
)
ICONS: Final = (
    ("mark-192", "192x192", "any"),
    ("mark-512", "512x512", "any"),
    ("mark-512-full", "512x512", "maskable"),
)


@require_GET
def manifest(request: HttpRequest) -> HttpResponse:
    icons = [
        {"src": static(f"web/icons/{name}.png"), "sizes": sizes, "type": "image/png", "purpose": purpose}
        for name, sizes, purpose in ICONS
    ]
    said = {
        "name": "shopwarranty",
        "short_name": "shopwarranty",
        "description": _("Film put on, looked at and vouched for."),
        "lang": get_language(),
        "id": "/",
        "start_url": "/",
        "scope": "/",
        "display": "standalone",
        "background_color": "#f3f1ea",
        "theme_color": "#1b2f3c",
        "icons": icons,
    }
    return JsonResponse(said, content_type="application/manifest+json")


@require_GET
def worker(request: HttpRequest) -> HttpResponse:
    """Its bytes change with the parts it keeps: that is how a browser notices a new version."""
    parts = [static(part) for part in PARTS] + [reverse("offline")]
    context = {"parts": json.dumps(parts), "edition": sha256(" ".join(parts).encode()).hexdigest()[:12]}
    response = render(request, "web/worker.js", context, content_type="text/javascript")
    response["Cache-Control"] = "no-cache"
    return response


@require_GET
def offline(request: HttpRequest) -> HttpResponse:
    return render(request, "web/offline.html")
