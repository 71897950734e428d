"""The furniture's own addresses alone, so that its tests stand on no other room."""

from shopwarranty.web.urls import urlpatterns

__all__ = ["handler400", "handler403", "handler404", "handler500", "urlpatterns"]
handler400 = "shopwarranty.web.views.bad_request"
handler403 = "shopwarranty.web.views.refused"
handler404 = "shopwarranty.web.views.not_found"
handler500 = "shopwarranty.web.views.server_error"
