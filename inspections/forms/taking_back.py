"""The form that takes a fitted part back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inspections.models import PartUsed

FITTING, REMOVAL = "fitting", "removal"
WHAT = ((FITTING, _("it was never fitted")), (REMOVAL, _("it never came off")))


class FitmentBackForm(forms.Form):
    """What was written down wrongly, why, and how many pieces lie on the shelf again."""

    what = forms.ChoiceField(label=_("What is wrong"), choices=WHAT, widget=forms.RadioSelect)
    pieces_back = forms.IntegerField(
        label=_("Pieces that lie on the shelf again"),
        min_value=0,
        help_text=_("0 where the part is used up all the same, spoiled for example."),
    )
    reason = forms.CharField(label=_("Why"), max_length=200)

    def __init__(
        self,
        data: Mapping[str, Any] | None,
        *,
        may_be_in_place: bool,
        used: PartUsed | None,
    ) -> None:
        pieces = used.quantity if used else 0
        super().__init__(data, initial={"pieces_back": pieces, "what": REMOVAL})
        if not may_be_in_place:
            del self.fields["what"]
        if used is None:
            del self.fields["pieces_back"]
        else:
            self.fields["pieces_back"].widget.attrs["max"] = pieces
            self.fields["pieces_back"].required = not may_be_in_place

    @property
    def is_removal(self) -> bool:
        """Whether only the end of the stay was wrong."""
        return bool(self.cleaned_data.get("what") == REMOVAL)

    def pieces(self) -> int:
        """Pieces that lie on the shelf again."""
        return self.cleaned_data.get("pieces_back") or 0
