"""The PIN by which a person is known on a shared phone: its hash, and the wrong tries since."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class PhonePin(models.Model):
    """A person's own PIN; a new one takes the place of the one before."""

    person = models.OneToOneField(
        settings.AUTH_USER_MODEL,
        models.CASCADE,
        related_name="phone_pin",
        verbose_name=_("person"),
    )
    pin_hash = models.CharField(_("hash of the PIN"), max_length=128)
    set_at = models.DateTimeField(_("set at"))
    wrong_tries = models.PositiveSmallIntegerField(_("wrong tries in a row"), default=0)
    closed_until = models.DateTimeField(_("takes no try until"), null=True, blank=True)

    class Meta:
        ordering = ("person",)
        verbose_name = _("PIN on phones")
        verbose_name_plural = _("PINs on phones")
        constraints = (
            models.CheckConstraint(condition=~Q(pin_hash=""), name="phone_pin_has_its_hash"),
        )

    def __str__(self) -> str:
        return str(self.person)
