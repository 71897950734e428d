from django.urls import path

from . import spot_urls
from .views import corrections, corrective, defects, panel, visits

urlpatterns = [
    *spot_urls.urlpatterns,
    path("checks/<int:pk>/start/", visits.start_visit, name="start-visit"),
    path("jobs/<int:pk>/look/", visits.start_look, name="start-look"),
    path("jobs/<int:pk>/handover-look/", visits.start_handover_look, name="start-handover-look"),
    path("visits/<int:pk>/", visits.visit, name="visit"),
    path("visits/<int:pk>/go-on/", visits.go_on, name="visit-go-on"),
    path("visits/<int:pk>/finish/", visits.finish, name="visit-finish"),
    path("visits/<int:pk>/drop/", visits.drop, name="visit-drop"),
    path("visits/<int:pk>/not-ours/", panel.not_ours, name="not-ours"),
    path("visits/<int:pk>/panels/<int:panel>/", panel.check_panel, name="check-panel"),
    path("visits/<int:pk>/panels/<int:panel>/undo/", panel.sweep_undo, name="sweep-undo"),
    path("visits/<int:pk>/panels/<int:panel>/unrecorded/", panel.unrecorded, name="place-unrecorded"),
    path("findings/<int:pk>/correct/", corrections.correct_finding, name="correct-finding"),
    path("defects/", defects.defects, name="defects"),
    path("defects/<int:pk>/", defects.defect, name="defect"),
    path("defects/<int:pk>/cause/", defects.judge_cause, name="judge-cause"),
    path("defects/<int:pk>/verify/", defects.verify, name="verify-defect"),
    path("defects/<int:pk>/remedy/", defects.record_remedy, name="record-remedy"),
    path("defects/<int:pk>/photos/", defects.add_photos, name="defect-photos"),
    path("actions/", corrective.corrective_actions, name="corrective-actions"),
    path("actions/new/", corrective.new_action, name="new-action"),
    path("actions/<int:pk>/", corrective.corrective_action, name="corrective-action"),
    path("actions/<int:pk>/in-use/", corrective.put_in_use, name="action-in-use"),
    path("actions/<int:pk>/effect/", corrective.look_at_effect, name="action-effect"),
    path("actions/<int:pk>/close/", corrective.close_action, name="action-close"),
    path("actions/<int:pk>/drop/", corrective.drop_action, name="action-drop"),
    path("actions/<int:pk>/reopen/", corrective.reopen_action, name="action-reopen"),
    path("places/<int:pk>/story/", defects.place, name="place-story"),
    path("defect-kinds/", corrections.defect_kinds, name="defect-kinds"),
    path("defect-kinds/<int:pk>/retire/", corrections.retire_kind, name="defect-kind-retire"),
]
