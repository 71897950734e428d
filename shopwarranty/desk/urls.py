from django.urls import path

from . import batch_views, bay_views, hand_over_urls, trace_views, views
from .flat import views as flat

urlpatterns = [
    path("", views.today, name="today"),
    path("bay/", bay_views.bay_home, name="bay-home"),
    path("search/", views.search, name="search"),
    path("import/", flat.import_jobs, name="import-jobs"),
    path("import/now/", flat.take_in, name="import-jobs-now"),
    path("import/format/", flat.import_format, name="import-format"),
    path("export/", flat.export_jobs, name="export-jobs"),
    path("lots/<int:pk>/", trace_views.lot, name="lot"),
    path("lots/<int:pk>/quarantine/", trace_views.quarantine, name="lot-quarantine"),
    path("certificates/together/", batch_views.issue_together, name="issue-together"),
    path("certificates/together/<int:pk>/", batch_views.certificate_batch, name="certificate-batch"),
    path(
        "certificates/together/<int:pk>/stop/",
        batch_views.stop_certificate_batch,
        name="certificate-batch-stop",
    ),
    *hand_over_urls.urlpatterns,
]
