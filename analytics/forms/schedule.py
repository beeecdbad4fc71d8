"""Which nights of which depot are planned, and where a visit is moved to."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.http import Http404
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, User

NIGHTS = (("7", _("one week")), ("14", _("two weeks")), ("28", _("four weeks")))
USUAL_NIGHTS = 7
FURTHEST = timedelta(days=366)


class ScheduleForm(forms.Form):
    """Depot, first night and how many; what is missing or makes no sense is the usual."""

    depot = forms.ChoiceField(label=_("Depot"), required=False)
    first = forms.DateField(
        label=_("From"), required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    nights = forms.TypedChoiceField(
        label=_("Nights"), required=False, choices=NIGHTS, coerce=int, empty_value=None
    )

    def __init__(self, data: Any, *, user: User, today: date) -> None:
        usual = {"first": today.isoformat(), "nights": str(USUAL_NIGHTS)}
        asked = {name: value for name in ("depot", "first", "nights") if (value := data.get(name))}
        super().__init__(usual | asked)
        self.today = today
        self.depots = {depot.code: depot for depot in Depot.objects.visible_to(user)}
        field = self.fields["depot"]
        assert isinstance(field, forms.ChoiceField)  # declared above
        field.choices = [(code, str(depot)) for code, depot in self.depots.items()]
        if data.get("depot") and data["depot"] not in self.depots:
            raise Http404(_now("No such depot in sight: %(code)s.") % {"code": data["depot"]})
        self.is_valid()

    @property
    def chosen_depot(self) -> Depot | None:
        """The depot asked for, or the first in sight; none where there is none."""
        code = self.cleaned_data.get("depot") or next(iter(self.depots), "")
        return self.depots.get(code)

    @property
    def first_on(self) -> date:
        """The first night: never before today, never further than a year."""
        asked = self.cleaned_data.get("first") or self.today
        return min(max(asked, self.today), self.today + FURTHEST)

    @property
    def count(self) -> int:
        """How many nights."""
        return int(self.cleaned_data.get("nights") or USUAL_NIGHTS)


class MoveForm(forms.Form):
    """A visit of a proposal and the night that it is moved to."""

    visit = forms.IntegerField()
    night = forms.DateField(required=False)
