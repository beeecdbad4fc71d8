"""Address of the listing of changes."""

from django.urls import path

from inspections.views import record_changes

urlpatterns = [
    path("record/changes/", record_changes.record_changes, name="record-changes"),
]
