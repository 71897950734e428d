from django.urls import path

from . import hand_over_urls, trace_views, views
from .flat import views as flat

urlpatterns = [
    path("", views.today, name="today"),
    path("search/", views.search, name="search"),
    path("import/", flat.import_jobs, name="import-jobs"),
    path("import/now/", flat.take_in, name="import-jobs-now"),
    path("import/format/", flat.import_format, name="import-format"),
    path("export/", flat.export_jobs, name="export-jobs"),
    path("lots/<int:pk>/", trace_views.lot, name="lot"),
    path("lots/<int:pk>/quarantine/", trace_views.quarantine, name="lot-quarantine"),
    *hand_over_urls.urlpatterns,
]
