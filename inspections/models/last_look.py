"""Up to when a person has looked at what changed."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _


class LastLook(models.Model):
    """One row a person; only the person's own word that it was seen moves it."""

    person = models.OneToOneField(
        settings.AUTH_USER_MODEL,
        models.CASCADE,
        related_name="last_look",
        verbose_name=_("person"),
    )
    looked_at = models.DateTimeField(_("looked at"))
    # What stood then of the figures, to tell later what is new in them.
    stood = models.JSONField(_("what stood then"), default=dict)

    class Meta:
        ordering = ("person",)
        verbose_name = _("last look")
        verbose_name_plural = _("last looks")

    def __str__(self) -> str:
        return f"{self.person} · {self.looked_at:%Y-%m-%d %H:%M}"
