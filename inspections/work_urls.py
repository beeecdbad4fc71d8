"""Addresses of papers and corrections: documents, the visit sheet, what was entered wrongly."""

from django.urls import path

from inspections.views import (
    causes,
    corrections,
    documents,
    taking_back,
    visit_sheet,
    visits,
)

urlpatterns = [
    path("causes/", causes.cause_shares, name="cause-shares"),
    path("causes/say/", causes.cause_shares_say, name="cause-shares-say"),
    path("door-models/<key:code>/documents/", documents.document_list, name="document-list"),
    path("door-models/<key:code>/documents/new/", documents.document_new, name="document-new"),
    path("documents/<int:pk>/", documents.document_file, name="document-file"),
    path("documents/<int:pk>/replace/", documents.document_replace, name="document-replace"),
    path("documents/<int:pk>/withdraw/", documents.document_withdraw, name="document-withdraw"),
    path(
        "measurements/<int:pk>/correct/",
        corrections.measurement_correct,
        name="measurement-correct",
    ),
    path("parts-used/<int:pk>/correct/", corrections.part_used_correct, name="part-used-correct"),
    path("fitted/<int:pk>/back/", taking_back.fitment_back, name="fitment-back"),
    path("visits/<int:pk>/sheet/", visit_sheet.visit_sheet, name="visit-sheet"),
    path("visits/<int:pk>/tick/back/", visits.visit_tick_back, name="visit-tick-back"),
]
