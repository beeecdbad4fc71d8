"""What-ifs on the year ahead: hours, use, intervals and the minutes of a visit."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from analytics.assessment.workload import VISIT_MINUTES, WhatIf
from analytics.forms.choices import ChoiceOfDepot, FilterForm
from fleetdoors.models import MaintenanceTask, User

LEAST, MOST = 0.1, 10.0
LONGEST_VISIT = 480


class Multiplier(forms.FloatField):
    """How many times as much as it is."""

    def __init__(self, label: Any) -> None:
        super().__init__(
            label=label,
            required=False,
            min_value=LEAST,
            max_value=MOST,
            widget=forms.NumberInput(
                attrs={"step": "any", "inputmode": "decimal", "placeholder": "1"}
            ),
        )


class WorkAheadForm(FilterForm):
    """Depot and multipliers, kept in the address; an empty one leaves things as they are."""

    depot = ChoiceOfDepot()
    hours = Multiplier(_("Hours in the bay, times"))
    usage = Multiplier(_("Cycles a day, times"))
    intervals = Multiplier(_("Intervals, times"))
    task = forms.ChoiceField(label=_("of task"), required=False)
    visit = forms.FloatField(
        label=_("Minutes of a visit beside its tasks"),
        required=False,
        min_value=0,
        max_value=LONGEST_VISIT,
        widget=forms.NumberInput(attrs={"step": "any", "placeholder": f"{VISIT_MINUTES:g}"}),
    )

    def __init__(self, data: Any, *, user: User) -> None:
        super().__init__(data, user=user)
        field = self.fields["task"]
        assert isinstance(field, forms.ChoiceField)  # declared above
        tasks = [(task.code, str(task)) for task in MaintenanceTask.objects.on_due_lists()]
        field.choices = [("", _("Every task")), *tasks]

    def what_if(self) -> WhatIf:
        """What is to be different."""
        asked = self.chosen()
        visit = asked.get("visit")
        is_task_known = "task" not in self.errors
        return WhatIf(
            usage=asked.get("usage") or 1.0,
            # Asked of a task that is not there, nothing else is changed in its place.
            intervals=(asked.get("intervals") if is_task_known else None) or 1.0,
            of_task=asked.get("task") or "",
            visit_minutes=VISIT_MINUTES if visit is None else visit,
        )

    def hours_factor(self) -> float:
        """How many times the hours that there are."""
        return self.chosen().get("hours") or 1.0

    def depot_ids(self, in_sight: tuple[int, ...] | None) -> tuple[int, ...] | None:
        """The depot asked for, or those in sight."""
        depot = self.depots.get(self.chosen().get("depot", ""))
        return in_sight if depot is None else (depot.pk,)
