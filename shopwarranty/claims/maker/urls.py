from django.urls import path

from . import views

urlpatterns = [
    path("claims/makers/", views.maker_claims, name="maker-claims"),
    path("claims/makers/new/", views.new_maker_claim, name="new-maker-claim"),
    path("claims/makers/<int:pk>/", views.maker_claim, name="maker-claim"),
    path("claims/makers/<int:pk>/change/", views.change_maker_claim, name="maker-claim-change"),
    path("claims/makers/<int:pk>/claim.pdf", views.maker_claim_pdf, name="maker-claim-pdf"),
    path("claims/makers/<int:pk>/send/", views.send_maker_claim, name="maker-claim-send"),
    path("claims/makers/<int:pk>/answer/", views.answer_maker_claim, name="maker-claim-answer"),
    path("claims/makers/<int:pk>/give-up/", views.drop_maker_claim, name="maker-claim-drop"),
]
