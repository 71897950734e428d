from django.urls import path

from . import maker_terms_views, plan_views, public_views, signing_views, transfer_views, views

urlpatterns = [
    path("certificates/", views.certificate_list, name="certificates"),
    path("certificates/<int:pk>/", views.certificate, name="certificate"),
    path("certificates/<int:pk>/certificate.pdf", views.certificate_pdf, name="certificate-pdf"),
    path("certificates/<int:pk>/send/", views.send_again, name="certificate-send"),
    path("certificates/<int:pk>/replace/", views.replace_certificate, name="certificate-replace"),
    path("certificates/<int:pk>/withdraw/", views.withdraw_certificate, name="certificate-withdraw"),
    path("vehicles/<int:pk>/sold/", transfer_views.vehicle_sold, name="vehicle-sold"),
    path("plans/", plan_views.plans, name="plans"),
    path("plans/<int:pk>/edit/", plan_views.edit, name="plan-edit"),
    path("plans/<int:pk>/standing/", plan_views.standing, name="plan-standing"),
    path("plans/versions/<int:pk>/", plan_views.version_view, name="plan-version"),
    path("plans/versions/<int:pk>/plan.pdf", plan_views.version_pdf, name="plan-version-pdf"),
    path("plans/versions/<int:pk>/publish/", plan_views.publish, name="plan-publish"),
    path("plans/logo/", plan_views.logo, name="certificate-logo"),
    path("plans/signing/", signing_views.signing, name="signing"),
    path(
        "plans/signing/<int:pk>/certificate.pem",
        signing_views.signing_certificate,
        name="signing-certificate",
    ),
    path("plans/maker-terms/", maker_terms_views.maker_terms, name="maker-terms"),
    path("plans/maker-terms/<int:pk>/file/", maker_terms_views.maker_terms_file, name="maker-terms-file"),
    path("plans/legal-texts/", plan_views.legal_texts, name="legal-texts"),
]
public_urlpatterns = [
    path("certificate/", public_views.find, name="public-find"),
    path("certificate/<str:number>/", public_views.find, name="public-number"),
    path("certificate/<str:number>/<str:code>/", public_views.public_certificate, name="public-certificate"),
]
