from django.urls import path

from . import act_views, report_views, stage_views, views
from .maker.urls import urlpatterns as to_makers

urlpatterns = [
    *to_makers,
    path("claims/", views.claim_list, name="claims"),
    path("claims/stages/", stage_views.stage_days, name="claim-stages"),
    path("vehicles/<int:pk>/claim/", views.new_claim, name="new-claim"),
    path("claims/<int:pk>/", views.claim, name="claim"),
    path("claims/<int:pk>/case-file.pdf", views.claim_case_file, name="claim-case-file"),
    path("claims/<int:pk>/photos/", report_views.add_photos, name="claim-photos"),
    path("reports/<int:pk>/claim/", report_views.claim_from_report, name="claim-from-report"),
    path("claims/<int:pk>/acknowledge/", act_views.acknowledge, name="claim-acknowledge"),
    path("claims/<int:pk>/assess/", act_views.assess, name="claim-assess"),
    path("claims/<int:pk>/first-report/", act_views.first_report, name="claim-first-report"),
    path("claims/<int:pk>/tell/", act_views.tell_decision, name="claim-tell"),
    path("claims/<int:pk>/remedied/", act_views.mark_remedied, name="claim-remedied"),
    path("claims/<int:pk>/close/", act_views.close, name="claim-close"),
    path("claims/<int:pk>/reopen/", act_views.reopen, name="claim-reopen"),
    path("claims/items/<int:pk>/match/", act_views.match_item, name="claim-match"),
    path("claims/items/<int:pk>/fact/", act_views.add_fact, name="claim-fact"),
    path("claims/items/<int:pk>/decide/", act_views.decide, name="claim-decide"),
    path("claims/facts/<int:pk>/set-aside/", act_views.set_aside_fact, name="claim-fact-aside"),
    path("claims/letters/<int:pk>/letter.pdf", views.claim_letter, name="claim-letter"),
]
