"""Addresses of the listing of changes, and of records that may go."""

from django.urls import path

from inspections.views import old_records, record_changes

urlpatterns = [
    path("record/changes/", record_changes.record_changes, name="record-changes"),
    path("record/old/", old_records.old_records, name="old-records"),
]
