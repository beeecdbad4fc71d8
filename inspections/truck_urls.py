"""Addresses of what happens at the truck: visits, inspections, traces, reports, holds, labels."""

from django.urls import path

from inspections.views import defects, door_codes, inspections, traces, visit_ends, visits

urlpatterns = [
    path("round/", visits.visit_round, name="round"),
    path("doors/<key:door>/visit/", visits.visit_plan, name="visit-plan"),
    path("visits/<int:pk>/", visits.visit_detail, name="visit-detail"),
    path("visits/<int:pk>/start/", visits.visit_start, name="visit-start"),
    path("visits/<int:pk>/tick/", visits.visit_tick, name="visit-tick"),
    path("visits/<int:pk>/jobs/", visits.visit_add_jobs, name="visit-add-jobs"),
    path("visits/<int:pk>/hand-over/", visits.visit_hand_over, name="visit-hand-over"),
    path("visits/<int:pk>/absent/", visits.visit_absent, name="visit-absent"),
    path("visits/<int:pk>/check/", visit_ends.visit_check, name="visit-check"),
    path("visits/<int:pk>/close/", visit_ends.visit_close, name="visit-close"),
    path("doors/<key:door>/inspection/", inspections.inspection_new, name="inspection-new"),
    path("inspections/<int:pk>/", inspections.inspection_detail, name="inspection-detail"),
    path("doors/<key:door>/trace/", traces.trace_begin, name="trace-begin"),
    path("traces/<int:pk>/", traces.trace_page, name="trace"),
    path("traces/<int:pk>/answer/", traces.trace_answer, name="trace-answer"),
    path("traces/<int:pk>/undo/", traces.trace_undo, name="trace-undo"),
    path("traces/<int:pk>/fault/", traces.trace_fault, name="trace-fault"),
    path("reports/", defects.defect_list, name="defect-list"),
    path("doors/<key:door>/report/", defects.defect_new, name="defect-new"),
    path("reports/<int:pk>/", defects.defect_detail, name="defect-detail"),
    path("attachments/<int:pk>/", defects.attachment_file, name="attachment-file"),
    path("doors/<key:door>/hold/", defects.hold_new, name="hold-new"),
    path("holds/<int:pk>/lift/", defects.hold_lift, name="hold-lift"),
    path("follow-ups/<int:pk>/drop/", defects.follow_up_drop, name="follow-up-drop"),
    path("d/<str:code>/", door_codes.door_code, name="door-code"),
    path("labels/", door_codes.labels, name="labels"),
]
