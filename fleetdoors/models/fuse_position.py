"""The fuse that each position of a door model calls for."""

from __future__ import annotations

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.fuse_marks import FuseMark
from fleetdoors.models.door_model import DoorModel

LEAST = MinValueValidator(0.1)


class FusePosition(models.Model):
    """Type, current and voltage as they must be marked on the fuse of a position."""

    door_model = models.ForeignKey(
        DoorModel, models.CASCADE, related_name="fuse_positions", verbose_name=_("door model")
    )
    position = models.CharField(
        _("position"), max_length=40, blank=True, help_text=_("Empty where there is only one.")
    )
    kind = models.CharField(_("type, as marked"), max_length=60)
    amps = models.FloatField(_("current, A"), validators=[LEAST])
    volts = models.FloatField(_("voltage, V DC"), validators=[LEAST])

    class Meta:
        ordering = ("door_model", "position")
        verbose_name = _("fuse of a position")
        verbose_name_plural = _("fuses of positions")
        constraints = (
            models.UniqueConstraint(fields=("door_model", "position"), name="fuse_position_once"),
            models.CheckConstraint(
                condition=Q(amps__gt=0, volts__gt=0) & ~Q(kind=""), name="fuse_position_is_told"
            ),
        )

    def __str__(self) -> str:
        return " · ".join(
            each for each in (str(self.door_model), self.position, self.words) if each
        )

    @property
    def words(self) -> str:
        """What stands on the right fuse."""
        return _("%(kind)s; %(amps)g A; %(volts)g V DC") % {
            "kind": self.kind,
            "amps": self.amps,
            "volts": self.volts,
        }

    def is_met_by(self, mark: FuseMark) -> bool:
        """Whether type, current and voltage of a fuse are all the same."""
        return (mark.kind, mark.amps, mark.volts) == (
            " ".join(self.kind.casefold().split()),
            self.amps,
            self.volts,
        )
