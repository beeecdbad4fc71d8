"""The form that closes a visit: what became of each job, and the name under it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Component, Part
from inspections.codes import Action
from inspections.forms.fault import NOT_SAID, BasePartRows, PartRowForm, mode_choices
from inspections.forms.fields import MomentField
from inspections.models import MOST_MINUTES, Cause, JobKind, JobOutcome, Mechanism, VisitJob
from inspections.services.closing_rules import JobClosing

ROWS_OF_A_JOB = 2

JobPartRows = cast(
    "type[BasePartRows]",
    forms.formset_factory(
        PartRowForm,
        formset=BasePartRows,
        extra=ROWS_OF_A_JOB,
        max_num=ROWS_OF_A_JOB,
        absolute_max=ROWS_OF_A_JOB,
    ),
)


class JobForm(forms.Form):
    """What became of one job; a fault is told in three short picks."""

    outcome = forms.ChoiceField(
        label=_("What became of it"),
        choices=JobOutcome.choices,
        widget=forms.RadioSelect,
        initial=JobOutcome.DONE,
    )
    reason = forms.CharField(label=_("If not done, why"), max_length=200, required=False)
    mode = forms.ChoiceField(label=_("How it failed"), required=False)
    mechanism = forms.ChoiceField(
        label=_("What happened to it"), choices=[NOT_SAID, *Mechanism.choices], required=False
    )
    cause = forms.ChoiceField(
        label=_("Why it happened"), choices=[NOT_SAID, *Cause.choices], required=False
    )
    action = forms.ChoiceField(
        label=_("What was done"), choices=[NOT_SAID, *Action.choices], required=False
    )
    off_road_from = MomentField(label=_("Off the road from"), required=False)
    off_road_until = MomentField(label=_("Back on the road at"), required=False)

    FAULT_FIELDS = ("mode", "mechanism", "cause", "action", "off_road_from", "off_road_until")

    def __init__(
        self,
        data: Mapping[str, Any] | None,
        *,
        job: VisitJob,
        parts: Iterable[Part],
        components: Mapping[str, Component],
        proposed: Part | None,
    ) -> None:
        fault = job.fault
        initial = {
            "mode": fault.mode if fault else "",
            "off_road_from": fault.off_road_from if fault else None,
            "action": Action.REPLACE if proposed else "",
        }
        super().__init__(data, prefix=f"job-{job.pk}", initial=initial)
        self.job = job
        if job.kind != JobKind.FAULT:
            for name in self.FAULT_FIELDS:
                del self.fields[name]
        elif fault:
            code = fault.component.code if fault.component else ""
            mode = cast("forms.ChoiceField", self.fields["mode"])
            mode.choices = mode_choices(code, components)
        first = [{"part": str(proposed.pk), "quantity": 1}] if proposed else None
        self.rows = JobPartRows(data, parts=parts, prefix=f"job-{job.pk}-parts", initial=first)

    def is_whole(self) -> bool:
        """Whether the job and its parts can be understood."""
        return self.is_valid() and self.rows.is_valid()

    def closing(self) -> JobClosing:
        """The job as the service takes it; parts of a job not done were not used."""
        cleaned = self.cleaned_data
        is_done = cleaned["outcome"] == JobOutcome.DONE
        return JobClosing(
            job=self.job,
            outcome=cleaned["outcome"],
            reason=cleaned["reason"],
            mode=cleaned.get("mode", ""),
            mechanism=cleaned.get("mechanism", ""),
            cause=cleaned.get("cause", ""),
            action=cleaned.get("action", ""),
            off_road_from=cleaned.get("off_road_from"),
            off_road_until=cleaned.get("off_road_until"),
            parts=self.rows.uses() if is_done else (),
        )


class SignOffForm(forms.Form):
    """The minutes that a visit took, and the name under it."""

    minutes = forms.IntegerField(
        label=_("Minutes worked, all hands together"),
        required=False,
        min_value=1,
        max_value=MOST_MINUTES,
        help_text=_(
            "From the beginning until now; put it right for breaks, or where several worked. It is "
            "kept for the visit, never for a person. Empty means not said."
        ),
    )
    signed_by = forms.CharField(label=_("Signed by"), max_length=100)
