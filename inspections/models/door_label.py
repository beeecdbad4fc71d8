"""Labels: the short code on a door, which opens its page."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import DoorUnit


class DoorLabel(models.Model):
    """The code printed on a door's label; it never changes, for the label hangs on the door."""

    door = models.OneToOneField(
        DoorUnit, models.PROTECT, related_name="label", verbose_name=_("door")
    )
    code = models.CharField(_("code"), max_length=10, unique=True)
    issued_at = models.DateTimeField(_("issued at"))

    class Meta:
        ordering = ("door",)
        verbose_name = _("label")
        verbose_name_plural = _("labels")

    def __str__(self) -> str:
        return f"{self.door} · {self.code}"
