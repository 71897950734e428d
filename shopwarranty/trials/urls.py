from django.urls import path

from . import consent_views, photo_views, views

urlpatterns = [
    path("trials/", views.trials, name="trials"),
    path("trials/new/", views.new_trial, name="new-trial"),
    path("trials/<int:pk>/", views.trial, name="trial"),
    path("trials/<int:pk>/pdf/", views.trial_pdf, name="trial-pdf"),
    path("trials/<int:pk>/file/", views.trial_file, name="trial-file"),
    path("trials/<int:pk>/places/", views.trial_places, name="trial-places"),
    path("trials/<int:pk>/pairs/<int:pair>/", photo_views.trial_pair, name="trial-pair"),
    path("trials/<int:pk>/draw/", views.trial_draw, name="trial-draw"),
    path("trials/<int:pk>/consent/", consent_views.trial_consent, name="trial-consent"),
    path("trials/<int:pk>/stop/", views.trial_stop, name="trial-stop"),
    path("trials/<int:pk>/adopt/", views.trial_adopt, name="trial-adopt"),
    path("trials/<int:pk>/pool/", views.trial_pool, name="trial-pool"),
    path("draws/<int:pk>/done/", views.draw_done, name="draw-done"),
]
