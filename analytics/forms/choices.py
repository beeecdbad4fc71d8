"""What the filter bars have in common: depots in sight, and what was asked for in vain."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import Http404
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, User


class FilterForm(forms.Form):
    """A filter bar kept in the address: nothing is required, and nonsense is said and ignored."""

    def __init__(self, data: Any, *, user: User) -> None:
        super().__init__(data)
        self.depots = {depot.code: depot for depot in Depot.objects.visible_to(user)}
        choices = [(code, str(depot)) for code, depot in self.depots.items()]
        field = self.fields["depot"]
        assert isinstance(field, forms.ChoiceField)  # declared so by every filter bar
        field.choices = [("", _("Every depot")), *choices]
        if data.get("depot") and data["depot"] not in self.depots:
            raise Http404(_now("No such depot in sight: %(code)s.") % {"code": data["depot"]})

    def chosen(self) -> dict[str, Any]:
        """What was asked for and makes sense."""
        self.is_valid()
        return self.cleaned_data

    @property
    def is_empty(self) -> bool:
        """Whether nothing was asked for."""
        return not any(self.chosen().values())

    def ignored(self) -> str:
        """A sentence on what was asked for and made no sense, or nothing."""
        names = [str(self.fields[name].label) for name in self.errors if name in self.fields]
        if not names:
            return ""
        return _now("Not understood, so not used: %(names)s.") % {"names": ", ".join(names)}


class ChoiceOfDepot(forms.ChoiceField):
    """One of the depots in sight."""

    def __init__(self) -> None:
        super().__init__(label=_("Depot"), required=False)


class Words(forms.CharField):
    """Part of a truck or door number."""

    def __init__(self) -> None:
        super().__init__(
            label=_("Truck or door"),
            required=False,
            max_length=80,
            widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
        )
