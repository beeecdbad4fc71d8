"""Who is trained and authorized for spring work, and until when."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from fleetdoors.models import User


class SpringAuthorisationQuerySet(models.QuerySet["SpringAuthorisation"]):
    """Authorisations by the page's question."""

    def valid_on(self, day: date) -> Self:
        """Those in force on the day."""
        return self.filter(from_on__lte=day, until_on__gte=day).filter(
            Q(withdrawn_at__isnull=True) | Q(withdrawn_at__date__gt=day)
        )

    def by_person(self) -> Self:
        """With the person, by name."""
        return self.select_related("person").order_by(
            "person__last_name", "person__username", "until_on"
        )


class SpringAuthorisation(models.Model):
    """A person named by the shop for work on springs, shafts, drums and lift cables."""

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        related_name="spring_authorisations",
        verbose_name=_("person"),
    )
    from_on = models.DateField(_("from"))
    until_on = models.DateField(_("until"))
    granted_by = models.CharField(_("granted by"), max_length=100)
    evidence = models.CharField(_("evidence"), max_length=200, blank=True)
    withdrawn_at = models.DateTimeField(_("withdrawn at"), null=True, blank=True)

    objects = SpringAuthorisationQuerySet.as_manager()

    class Meta:
        ordering = ("person", "from_on")
        verbose_name = _("authorisation for spring work")
        verbose_name_plural = _("authorisations for spring work")
        constraints = (
            models.CheckConstraint(
                condition=Q(until_on__gte=F("from_on")),
                name="spring_word_ends_after_start",
            ),
        )

    def __str__(self) -> str:
        return f"{self.person} · {self.until_on}"


def may_work_on_springs(person: User, day: date) -> bool:
    """Whether the shop has named the person for spring work on that day; queries."""
    return SpringAuthorisation.objects.valid_on(day).filter(person=person).exists()
