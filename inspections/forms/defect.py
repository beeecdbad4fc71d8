"""Forms for drivers' reports, their steps, and the holds that keep a truck."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from inspections.codes import Complaint
from inspections.models import DefectState, HoldReason
from inspections.services.attachments import (
    HEAD_BYTES,
    PHOTO_LIMIT_BYTES,
    AttachmentRefusedError,
    photo_type,
    refuse_vast_picture,
)
from inspections.services.defects import NEXT_STEPS


class DefectForm(forms.Form):
    """What a driver saw; short, for somebody in a hurry."""

    complaint = forms.ChoiceField(
        label=_("What does the door do?"), choices=Complaint.choices, widget=forms.RadioSelect
    )
    words = forms.CharField(
        label=_("In your words"),
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    reporter = forms.CharField(label=_("Your name"), max_length=100)
    photo = forms.FileField(
        label=_("A photo"),
        required=False,
        widget=forms.ClearableFileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )

    def clean_photo(self) -> Any:
        """A picture of a size that a phone makes; what it is, its first bytes say."""
        photo = self.cleaned_data["photo"]
        if not photo:
            return None
        if photo.size > PHOTO_LIMIT_BYTES:
            raise ValidationError(
                _now("A photo has at most %(limit)d MB: this one has %(size).1f MB.")
                % {"limit": PHOTO_LIMIT_BYTES // 2**20, "size": photo.size / 2**20}
            )
        content = photo.read()
        photo.seek(0)
        if photo_type(content[:HEAD_BYTES]) is None:
            raise ValidationError(_now("A photo is a JPEG, PNG or WebP picture; this is none."))
        try:
            refuse_vast_picture(content)
        except AttachmentRefusedError as refused:
            raise ValidationError(str(refused)) from refused
        return photo


class StepForm(forms.Form):
    """The next step of a report, by name."""

    kind = forms.ChoiceField(label=_("Next step"), widget=forms.RadioSelect)
    reason = forms.CharField(
        label=_("What was found or done"),
        required=False,
        max_length=300,
        help_text=_("A repair that is unnecessary needs its reason."),
    )
    name = forms.CharField(label=_("Name"), max_length=100)
    role = forms.CharField(label=_("Role"), max_length=100, required=False)

    def __init__(
        self, data: Mapping[str, Any] | None, *, state: str, initial: Mapping[str, Any]
    ) -> None:
        super().__init__(data, initial=dict(initial))
        steps = [(kind, DefectState(kind).label) for kind in NEXT_STEPS[state]]
        cast("forms.ChoiceField", self.fields["kind"]).choices = steps


class AcknowledgeForm(forms.Form):
    """The next driver has read what became of a report."""

    name = forms.CharField(label=_("Your name"), max_length=100)


class HoldForm(forms.Form):
    """Why a truck is kept."""

    because = forms.ChoiceField(
        label=_("Because"), choices=HoldReason.choices, widget=forms.RadioSelect
    )
    detail = forms.CharField(label=_("What was seen"), max_length=300, required=False)


class LiftHoldForm(forms.Form):
    """Who signs for the repair, and what was done."""

    what_was_done = forms.CharField(label=_("What was done"), max_length=300)
    signed_by = forms.CharField(label=_("Signed by"), max_length=100)
    signed_role = forms.CharField(label=_("Role"), max_length=100, required=False)


class ReasonForm(forms.Form):
    """Why something is dropped."""

    reason = forms.CharField(label=_("Why"), max_length=200)
