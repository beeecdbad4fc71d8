"""Parts that may take another's place without replacing it for good."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models.part import Part


class PartAlternate(models.Model):
    """A part that may be fitted where another is not at hand; not the other way round by itself."""

    part = models.ForeignKey(
        Part, models.CASCADE, related_name="alternates", verbose_name=_("part")
    )
    alternate = models.ForeignKey(
        Part, models.CASCADE, related_name="stands_in_for", verbose_name=_("may be replaced by")
    )
    note = models.CharField(
        _("note"),
        max_length=200,
        blank=True,
        help_text=_("What to watch when the other part is fitted, such as a bracket or a setting."),
    )

    class Meta:
        ordering = ("part", "alternate")
        verbose_name = _("alternate part")
        verbose_name_plural = _("alternate parts")
        constraints = (
            models.UniqueConstraint(fields=("part", "alternate"), name="part_alternate_once"),
            models.CheckConstraint(
                condition=~Q(part=F("alternate")), name="part_alternate_is_another"
            ),
        )

    def __str__(self) -> str:
        return f"{self.part} · {self.alternate}"
