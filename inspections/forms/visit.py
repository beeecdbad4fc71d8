"""Forms for visits: the plan, the handover, the truck that did not come, the final check."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, cast

from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, MaintenanceTask, Role, User
from fleetdoors.templatetags.units import short_day
from inspections.forms.fields import DayField
from inspections.kept_words import as_read
from inspections.models import DefectReport, Fault, FinalCheck, FollowUp
from inspections.services.visits import Jobs

PASSED = (("yes", _("yes")), ("no", _("no")))


def people_at_work(depots: Iterable[Depot] | None = None) -> Any:
    """Technicians and planners who may sign in, by name; of all depots, or of some.

    Who is named for no depot works at every one.
    """
    people = User.objects.filter(is_active=True, role__in=(Role.TECHNICIAN, Role.PLANNER))
    people = people.order_by("last_name", "first_name", "username")
    if depots is None:
        return people
    here = people.filter(depots__in=depots) | people.filter(depots__isnull=True)
    return here.distinct()


def people_at(depot: Depot | None) -> Any:
    """Who may work where a door is; everybody for a door that is nowhere."""
    return people_at_work(None if depot is None else [depot])


def colleagues_of(person: User) -> Any:
    """Who works at the depots that a person sees; queries once more."""
    return people_at_work(None if person.sees_every_depot() else person.depots.all())


class OpenRows(forms.ModelMultipleChoiceField):
    """Rows that stand open on one door; the door itself goes without saying."""

    widget = forms.CheckboxSelectMultiple

    def label_from_instance(self, obj: Any) -> str:
        if isinstance(obj, FollowUp):
            return f"{obj.task}: {as_read(obj.because)}"
        if isinstance(obj, Fault):
            return f"{obj.component or obj.get_complaint_display()}, {short_day(obj.found_at)}"
        return f"{obj.get_complaint_display()}, {obj.reporter}, {short_day(obj.reported_at)}"


class VisitPlanForm(forms.Form):
    """When a door is visited, by whom and what for."""

    planned_on = DayField(label=_("Day"))
    technician = forms.ModelChoiceField(
        User.objects.none(), label=_("Technician"), required=False, empty_label=_("whoever comes")
    )
    follow_ups = OpenRows(
        FollowUp.objects.none(), label=_("Findings that ask for work"), required=False
    )
    faults = OpenRows(Fault.objects.none(), label=_("Faults not repaired yet"), required=False)
    defect_reports = OpenRows(
        DefectReport.objects.none(), label=_("Drivers' reports"), required=False
    )
    tasks = forms.ModelMultipleChoiceField(
        MaintenanceTask.objects.none(),
        label=_("Preventive tasks"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    def __init__(
        self,
        data: Mapping[str, Any] | None,
        *,
        jobs: Jobs,
        depot: Depot | None,
        initial: Mapping[str, Any],
    ) -> None:
        super().__init__(data, initial=dict(initial))
        self._offer("technician", people_at(depot))
        self._offer("tasks", MaintenanceTask.objects.on_due_lists())
        self._offer_rows("faults", Fault, jobs.faults)
        self._offer_rows("follow_ups", FollowUp, jobs.follow_ups)
        self._offer_rows("defect_reports", DefectReport, jobs.defect_reports)

    def jobs(self) -> Jobs:
        """The jobs as the service takes them."""
        cleaned = self.cleaned_data
        return Jobs(
            tasks=list(cleaned["tasks"]),
            faults=list(cleaned.get("faults", ())),
            follow_ups=list(cleaned.get("follow_ups", ())),
            defect_reports=list(cleaned.get("defect_reports", ())),
        )

    def _offer(self, name: str, rows: Any) -> None:
        cast("forms.ModelChoiceField", self.fields[name]).queryset = rows

    def _offer_rows(self, name: str, model: Any, rows: Sequence[Any]) -> None:
        """Rows to choose from, all of them chosen; no question where there is none."""
        if not rows:
            del self.fields[name]
            return
        self._offer(name, model.objects.filter(pk__in=[row.pk for row in rows]).order_by("pk"))
        self.initial.setdefault(name, [row.pk for row in rows])


class HandoverForm(forms.Form):
    """To whom a visit passes, and where it stands."""

    to_person = forms.ModelChoiceField(User.objects.none(), label=_("To"), empty_label=None)
    note = forms.CharField(
        label=_("Where it stands"),
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("What is open, what is isolated, where the parts lie."),
    )

    def __init__(
        self, data: Mapping[str, Any] | None, *, holder: User | None, depot: Depot | None
    ) -> None:
        super().__init__(data)
        others = people_at(depot).exclude(pk=holder.pk if holder else None)
        cast("forms.ModelChoiceField", self.fields["to_person"]).queryset = others


class NotPresentedForm(forms.Form):
    """Why a truck did not come, and when it is to come instead."""

    reason = forms.CharField(label=_("Why"), max_length=200)
    again_on = DayField(label=_("Plan it again for"), required=False)


class FinalCheckForm(forms.Form):
    """Five things tried at the end, each answered."""

    note = forms.CharField(label=_("Note"), required=False, max_length=500)

    def __init__(self, data: Mapping[str, Any] | None) -> None:
        super().__init__(data)
        names = {field.name: field.verbose_name for field in FinalCheck._meta.fields}
        for item in FinalCheck.ITEMS:
            self.fields[item] = forms.ChoiceField(
                label=capfirst(str(names[item])),
                choices=PASSED,
                widget=forms.RadioSelect,
            )
        self.order_fields([*FinalCheck.ITEMS, "note"])

    def items(self) -> dict[str, bool]:
        """The answers as the service takes them."""
        return {item: self.cleaned_data[item] == "yes" for item in FinalCheck.ITEMS}
