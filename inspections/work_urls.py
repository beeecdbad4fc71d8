"""Addresses of papers and corrections: documents, the visit sheet, what was entered wrongly."""

from django.urls import path

from inspections.views import documents

urlpatterns = [
    path("door-models/<key:code>/documents/", documents.document_list, name="document-list"),
    path("door-models/<key:code>/documents/new/", documents.document_new, name="document-new"),
    path("documents/<int:pk>/", documents.document_file, name="document-file"),
    path("documents/<int:pk>/replace/", documents.document_replace, name="document-replace"),
    path("documents/<int:pk>/withdraw/", documents.document_withdraw, name="document-withdraw"),
]
