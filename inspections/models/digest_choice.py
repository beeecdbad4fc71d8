"""Who wants the morning mail, and up to when it was sent."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _


class DigestChoiceQuerySet(models.QuerySet["DigestChoice"]):
    """Choices by the page's question."""

    def wanted(self) -> DigestChoiceQuerySet:
        """Of people who may enter, have an address and asked for the mail."""
        return (
            self.filter(is_on=True, person__is_active=True)
            .exclude(person__email="")
            .select_related("person")
            .order_by("person__username")
        )


class DigestChoice(models.Model):
    """A person's wish for the morning mail; nobody gets it who did not ask."""

    person = models.OneToOneField(
        settings.AUTH_USER_MODEL,
        models.CASCADE,
        related_name="digest_choice",
        verbose_name=_("person"),
    )
    is_on = models.BooleanField(_("wanted"), default=False)
    # What came after this moment is new to the person.
    told_until = models.DateTimeField(_("told until"))

    objects = DigestChoiceQuerySet.as_manager()

    class Meta:
        ordering = ("person",)
        verbose_name = _("wish for the morning mail")
        verbose_name_plural = _("wishes for the morning mail")

    def __str__(self) -> str:
        return str(self.person)

    def told(self, *, until: datetime) -> None:
        """The person was told of everything up to the moment."""
        type(self).objects.filter(pk=self.pk).update(told_until=until)
        self.told_until = until
