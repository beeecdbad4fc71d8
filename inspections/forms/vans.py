"""The form that puts pieces of the shelf into a van."""

from __future__ import annotations

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Part

MOST = 10_000


class VanLoadForm(forms.Form):
    """A part that the shelf holds, and how many pieces of it."""

    part = forms.ModelChoiceField(
        Part.objects.none(), label=_("Part"), empty_label=_("choose a part")
    )
    quantity = forms.IntegerField(
        label=_("Pieces"),
        min_value=1,
        max_value=MOST,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )

    def __init__(self, *args: object, parts: QuerySet[Part], **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.fields["part"].queryset = parts  # type: ignore[attr-defined]
