"""What one doing of a task costs, a defect put right then, and a failure."""

from django import forms
from django.utils.translation import gettext_lazy as _

from analytics.forms.component_costs import MOST
from analytics.reports.look_advice import LookCosts


class LookCostsForm(forms.Form):
    """Three costs in one currency, kept in the address; what makes no sense is answered there."""

    cost_look = forms.FloatField(
        label=_("Doing it once costs"),
        required=False,
        min_value=-MOST,
        max_value=MOST,
        widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"}),
    )
    cost_defect = forms.FloatField(
        label=_("Putting a found defect right costs"),
        required=False,
        min_value=-MOST,
        max_value=MOST,
        widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"}),
    )
    cost_failure = forms.FloatField(
        label=_("A failure costs, with the truck's lost time"),
        required=False,
        min_value=-MOST,
        max_value=MOST,
        widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"}),
    )

    def costs(self) -> LookCosts:
        """The costs that were understood."""
        self.is_valid()
        return LookCosts(
            look=self.cleaned_data.get("cost_look"),
            defect=self.cleaned_data.get("cost_defect"),
            failure=self.cleaned_data.get("cost_failure"),
        )

    def ignored(self) -> str:
        """A sentence on what was typed and is no number, or nothing."""
        names = [str(self.fields[name].label) for name in self.errors]
        if not names:
            return ""
        return _("Not a number that could be used: %(names)s.") % {"names": ", ".join(names)}
