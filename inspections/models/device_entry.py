"""Entries made on a phone without signal: what came in, when it happened, and what became of it."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class EntryOutcome(models.TextChoices):
    """What became of an entry."""

    STORED = "stored", _("stored")
    REFUSED = "refused", _("refused")


class DeviceEntry(models.Model):
    """One entry of one phone, known by the phone's own id, so that it is taken once.

    `happened_at_raw` is by the phone's clock; `happened_at` is corrected by the difference
    between the phone's now and the server's when the entry arrived.
    """

    client_id = models.UUIDField(_("id on the phone"), unique=True)
    kind = models.CharField(_("kind"), max_length=30)
    payload = models.JSONField(_("content"))
    payload_version = models.PositiveSmallIntegerField(_("version of the content"), default=1)
    phone_now = models.DateTimeField(_("the phone's clock on arrival"))
    happened_at_raw = models.DateTimeField(_("happened at, by the phone"))
    happened_at = models.DateTimeField(_("happened at"))
    received_at = models.DateTimeField(_("received at"))
    author = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, related_name="+", verbose_name=_("author")
    )
    outcome = models.CharField(_("outcome"), max_length=10, choices=EntryOutcome)
    refusal = models.CharField(_("why it was refused"), max_length=500, blank=True)
    result = models.JSONField(_("what it became"), default=dict, blank=True)

    objects: ClassVar[models.Manager[DeviceEntry]] = models.Manager()

    class Meta:
        ordering = ("-received_at", "-pk")
        verbose_name = _("entry from a phone")
        verbose_name_plural = _("entries from phones")
        constraints = (
            models.CheckConstraint(
                condition=~Q(outcome=EntryOutcome.REFUSED) | ~Q(refusal=""),
                name="device_entry_refused_says_why",
            ),
        )

    def __str__(self) -> str:
        return f"{self.kind} · {self.client_id}"
