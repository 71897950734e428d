from . import job_urls, method_urls, photo_urls

urlpatterns = [*job_urls.urlpatterns, *method_urls.urlpatterns, *photo_urls.urlpatterns]
