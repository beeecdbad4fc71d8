"""The filter bar of the due list."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from analytics.forms.choices import ChoiceOfDepot, FilterForm, Words
from analytics.models import DueState
from analytics.reports.due_page import PRESSING_WORD, DueChoice
from fleetdoors.models import MaintenanceTask, User

STATES = (
    ("", _("Every state")),
    (PRESSING_WORD, _("late, due or asked for by a finding")),
    *DueState.choices,
)
LONGEST_DAYS = 3650


class DueFilterForm(FilterForm):
    """Depot, task, state, truck or door, and how far ahead."""

    depot = ChoiceOfDepot()
    task = forms.ChoiceField(label=_("Task"), required=False)
    state = forms.ChoiceField(label=_("State"), required=False, choices=STATES)
    within = forms.IntegerField(
        label=_("Due within days"), required=False, min_value=0, max_value=LONGEST_DAYS
    )
    search = Words()

    def __init__(self, data: Any, *, user: User) -> None:
        super().__init__(data, user=user)
        self.tasks = {task.code: task for task in MaintenanceTask.objects.on_due_lists()}
        field = self.fields["task"]
        assert isinstance(field, forms.ChoiceField)  # declared above
        names = [(code, str(task)) for code, task in self.tasks.items()]
        field.choices = [("", _("Every task")), *names]

    def choice(self) -> DueChoice:
        """What to list."""
        asked = self.chosen()
        depot = self.depots.get(asked.get("depot", ""))
        task = self.tasks.get(asked.get("task", ""))
        return DueChoice(
            depot_id=depot.pk if depot else None,
            task_id=task.pk if task else None,
            state=asked.get("state", ""),
            words=asked.get("search", ""),
            within_days=asked.get("within"),
        )
