"""What a person decides about held readings."""

from __future__ import annotations

from collections.abc import Sequence

from django import forms
from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from analytics.models import SuspectReading
from analytics.reports.suspicion import question
from inspections.models import ReadingStatus
from inspections.services.settling import Decision

MOST_AT_ONCE = 200


class Verdict(models.TextChoices):
    """What can be said of a held reading."""

    SUGGESTED = "suggested", _("take the suggestion")
    ACCEPT = "accept", _("the counter did show this")
    LEAVE_OUT = "leave_out", _("leave it out")


class ReadingIds(forms.TypedMultipleChoiceField):
    """Readings ticked in a list; whether they are in sight is looked up afterwards."""

    def valid_value(self, value: str) -> bool:
        """Any number that the database can hold."""
        return value.isascii() and value.isdecimal() and len(value) < 19


class SettleForm(forms.Form):
    """A verdict on the readings ticked, or, as `one`, a verdict and the reading it is about."""

    verdict = forms.ChoiceField(choices=Verdict, required=False)
    one = forms.RegexField(
        rf"^({'|'.join(Verdict.values)})-[0-9]{{1,18}}$", required=False, strip=True
    )
    reading = ReadingIds(coerce=int, required=False)

    def clean(self) -> dict[str, object]:
        """One reading with its own verdict, or a verdict on those ticked."""
        asked = self.cleaned_data
        if not asked.get("one"):
            if not asked.get("reading"):
                raise ValidationError(_("Tick the readings first, then say what is to be done."))
            if not asked.get("verdict"):
                raise ValidationError(_("Say what is to be done with the readings ticked."))
            if len(asked["reading"]) > MOST_AT_ONCE:
                raise ValidationError(_("At most 200 readings are settled at once."))
        return asked

    def what_is_wrong(self) -> str:
        """The first error in words."""
        return next(str(error) for errors in self.errors.values() for error in errors)

    def nothing_done(self) -> str:
        """Why a valid form led to nothing."""
        return _now("None of these readings was waiting, or none had a suggestion.")

    def reading_ids(self) -> list[int]:
        """The readings it is about."""
        if self.cleaned_data["one"]:
            return [int(self.cleaned_data["one"].rpartition("-")[2])]
        return list(self.cleaned_data["reading"])

    def decisions(self, suspects: Sequence[SuspectReading]) -> list[Decision]:
        """What is to be done with each reading; one without a suggestion is left as it is."""
        one = self.cleaned_data["one"]
        verdict = Verdict(one.rpartition("-")[0] if one else self.cleaned_data["verdict"])
        found = [_decision(suspect, verdict) for suspect in suspects]
        return [decision for decision in found if decision]


def _decision(suspect: SuspectReading, verdict: Verdict) -> Decision | None:
    if verdict == Verdict.ACCEPT:
        return Decision(suspect.reading, _now("confirmed as read"), ReadingStatus.ACCEPTED)
    if verdict == Verdict.LEAVE_OUT:
        return Decision(suspect.reading, _now("left out of the figures"), ReadingStatus.HELD)
    if suspect.suggestion is None:
        return None
    reason = _now("suggestion taken: %(why)s") % {"why": question(suspect)}
    return Decision(suspect.reading, reason, corrected_value=suspect.suggestion)
