"""Forms for preventive tasks done."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import MaintenanceTask
from inspections.forms.fields import MomentField
from inspections.services.tasks_done import WorkDone


class TaskDoneForm(forms.Form):
    """When a task was done, by whom, and at how many cycles where that is known."""

    done_at = MomentField(label=_("Done at"))
    done_by = forms.CharField(label=_("Done by"), max_length=100, required=False)
    at_cycles = forms.IntegerField(
        label=_("Lifetime cycles of the door"),
        min_value=0,
        max_value=10**12,
        required=False,
        help_text=_("Leave empty to take them from the readings around that moment."),
    )

    def work(self, task: MaintenanceTask) -> WorkDone:
        """The entry as the service takes it."""
        return WorkDone(
            task=task,
            done_at=self.cleaned_data["done_at"],
            at_cycles=self.cleaned_data["at_cycles"],
            done_by=self.cleaned_data["done_by"],
        )


class TaskDoneCorrectionForm(TaskDoneForm):
    """What should have been written about a task done, and why."""

    task = forms.ModelChoiceField(
        MaintenanceTask.objects.order_by("name"), label=_("Task"), empty_label=None
    )
    reason = forms.CharField(label=_("Why"), max_length=200)

    field_order = ("task", "done_at", "done_by", "at_cycles", "reason")
