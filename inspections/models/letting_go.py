"""That the records of a door were let go: all that stays of them."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import DoorUnit
from fleetdoors.retention import RuleSet


class LettingGo(models.Model):
    """When the records of a door were deleted, by which rule, and how many rows of which table."""

    door = models.ForeignKey(
        DoorUnit, models.PROTECT, related_name="lettings_go", verbose_name=_("door")
    )
    rule_set = models.CharField(_("rules"), max_length=4, choices=RuleSet)
    left_on = models.DateField(_("left the fleet on"))
    kept_until_on = models.DateField(_("was to be kept until"))
    # The day by the door's last depot.
    gone_on = models.DateField(_("let go on"))
    gone_at = models.DateTimeField(_("let go at"))
    gone_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("let go by"),
        help_text=_("None for the command line."),
    )
    rows = models.JSONField(_("rows"))

    class Meta:
        ordering = ("-gone_at", "-pk")
        verbose_name = _("records let go")
        verbose_name_plural = _("records let go")
        constraints = (
            models.CheckConstraint(
                condition=Q(gone_on__gte=models.F("kept_until_on")), name="letting_go_in_time"
            ),
        )

    def __str__(self) -> str:
        return f"{self.door} · {self.gone_on}"
