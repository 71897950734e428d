from . import method_urls, photo_urls

urlpatterns = [*method_urls.urlpatterns, *photo_urls.urlpatterns]
