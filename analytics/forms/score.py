"""What the score is looked at for, and its two settings."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from analytics.forms.choices import ChoiceOfDepot, FilterForm
from fleetdoors.models import DoorModel, User

BY_DEPOT, BY_MODEL = "depot", "door_model"
EARLY_COUNTS = "counts"


class ScoreForm(FilterForm):
    """Depot, door model, what to compare, whether early counts, and what an hour costs."""

    depot = ChoiceOfDepot()
    door_model = forms.ChoiceField(label=_("Door model"), required=False)
    by = forms.ChoiceField(
        label=_("Compare"),
        required=False,
        choices=[("", _("depots")), (BY_MODEL, _("door models"))],
    )
    early = forms.ChoiceField(
        label=_("A task done before its window"),
        required=False,
        choices=[("", _("is not in time")), (EARLY_COUNTS, _("counts as in time"))],
    )
    rate = forms.FloatField(
        label=_("An hour of work costs, instead of the depots' prices"),
        required=False,
        min_value=0,
        max_value=1e6,
        widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"}),
    )

    def __init__(self, data: Any, *, user: User) -> None:
        super().__init__(data, user=user)
        self.models = {model.code: model for model in DoorModel.objects.order_by("code")}
        field = self.fields["door_model"]
        assert isinstance(field, forms.ChoiceField)  # declared above
        field.choices = [("", _("Every model")), *((code, code) for code in self.models)]

    def depot_ids(self, in_sight: tuple[int, ...] | None) -> tuple[int, ...] | None:
        """The depot asked for, or those in sight."""
        depot = self.depots.get(self.chosen().get("depot", ""))
        return in_sight if depot is None else (depot.pk,)

    def model_id(self) -> int | None:
        """The door model asked for, None for all."""
        model = self.models.get(self.chosen().get("door_model", ""))
        return model.pk if model else None

    def early_counts(self) -> bool:
        """Whether a task done before its window is taken as in time."""
        return self.chosen().get("early") == EARLY_COUNTS

    def rate_per_hour(self) -> float | None:
        """What an hour of work costs, None = not said."""
        rate: float | None = self.chosen().get("rate")
        return rate

    def by_model(self) -> bool:
        """Whether door models are compared, else depots."""
        return self.chosen().get("by") == BY_MODEL
