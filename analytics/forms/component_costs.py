"""What a planned change and a failure cost."""

from django import forms
from django.utils.translation import gettext_lazy as _

from analytics.reports.component_advice import Costs

MOST = 1e9


class ComponentCostsForm(forms.Form):
    """Both costs in one currency, kept in the address; what makes no sense is answered there."""

    cost_preventive = forms.FloatField(
        label=_("A planned change costs"),
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

    def costs(self) -> Costs:
        """The costs that were understood."""
        self.is_valid()
        return Costs(
            preventive=self.cleaned_data.get("cost_preventive"),
            failure=self.cleaned_data.get("cost_failure"),
        )

    def ignored(self) -> str:
        """A sentence on what was typed and is no number, or nothing."""
        names = [str(self.fields[name].label) for name in self.errors]
        if not names:
            return ""
        return _("Not a number that could be used: %(names)s.") % {"names": ", ".join(names)}
