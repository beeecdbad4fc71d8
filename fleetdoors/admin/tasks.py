"""Preventive tasks in the registry; what is changed here is kept as on the catalogue's own page."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import admin
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleetdoors.admin.registry import RegistryAdmin, RegistryInline
from fleetdoors.models import MaintenanceTask, SeverityFactor, User
from fleetdoors.services.task_catalogue import InACircleError, keep_change, refuse_circle
from fleetdoors.services.task_sheet import sheet_of


class TaskForm(forms.ModelForm):
    """A task with the reason of its change."""

    reason = forms.CharField(label=_("Why is it changed?"), max_length=200)

    def clean_contains(self) -> Any:
        """The tasks done along; none of them may lead back to this one."""
        inside = self.cleaned_data["contains"]
        try:
            refuse_circle(self.instance, [each.pk for each in inside])
        except InACircleError as refused:
            raise forms.ValidationError(str(refused)) from refused
        return inside


class SeverityFactorInline(RegistryInline):
    model = SeverityFactor


@admin.register(MaintenanceTask)
class MaintenanceTaskAdmin(RegistryAdmin):
    """Saving writes the task and the record of its change together."""

    form = TaskForm
    list_display = (
        "code",
        "name",
        "interval_cycles",
        "interval_days",
        "minutes",
        "performer",
        "is_on_due_lists",
    )
    list_filter = ("kind", "is_on_due_lists")
    search_fields = ("code", "name")
    filter_horizontal = ("contains", "cautions")
    inlines = (SeverityFactorInline,)

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        """Wait for `save_related`: until then what stood before can still be read."""

    def save_related(self, request: HttpRequest, form: Any, formsets: Any, change: bool) -> None:
        """Write the task with what belongs to it, and keep the change."""
        task = form.instance
        stood = MaintenanceTask.objects.select_for_update().filter(pk=task.pk).first()
        before = sheet_of(stood) if stood else None
        task.save()
        super().save_related(request, form, formsets, change)
        after = sheet_of(task)
        assert isinstance(request.user, User)  # only administrators come here
        if before is None or before.differs_in(after):
            keep_change(
                task=task,
                before=before,
                after=after,
                by=request.user,
                at=timezone.now(),
                reason=form.cleaned_data["reason"],
            )
