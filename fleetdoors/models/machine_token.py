"""Tokens by which other systems enter: telematics that post readings, tools that read figures."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models.depot import Depot, DepotQuerySet


class MachineTokenQuerySet(models.QuerySet["MachineToken"]):
    """Tokens by whether they still open anything."""

    def in_force(self) -> MachineTokenQuerySet:
        """Tokens that nobody has taken back."""
        return self.filter(revoked_at__isnull=True)

    def newest_first(self) -> MachineTokenQuerySet:
        """Those in force first, each group from the latest on, with what a list shows."""
        return (
            self.select_related("issued_by", "revoked_by")
            .prefetch_related("depots")
            .order_by(F("revoked_at").desc(nulls_first=True), "-issued_at", "-pk")
        )


class MachineToken(models.Model):
    """One system's way in: what it may do and for which depots; only a digest is kept.

    No depot named means every depot, as with people.
    """

    name = models.CharField(_("system"), max_length=80)
    # The first signs of the token, so that a person can tell which one a system holds.
    begins_with = models.CharField(_("begins with"), max_length=12)
    digest = models.CharField(_("digest"), max_length=64, unique=True)
    may_read = models.BooleanField(_("may read doors, due tasks, figures and stock"), default=False)
    may_post_readings = models.BooleanField(_("may post counter readings"), default=False)
    depots = models.ManyToManyField(Depot, blank=True, verbose_name=_("depots"))
    issued_at = models.DateTimeField(_("issued at"))
    issued_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("issued by"),
    )
    revoked_at = models.DateTimeField(_("taken back at"), null=True, blank=True)
    revoked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("taken back by"),
    )

    objects = MachineTokenQuerySet.as_manager()

    class Meta:
        ordering = ("name", "issued_at", "pk")
        verbose_name = _("token of a system")
        verbose_name_plural = _("tokens of systems")
        constraints = (
            models.CheckConstraint(
                condition=Q(may_read=True) | Q(may_post_readings=True),
                name="machine_token_may_do_something",
            ),
            models.CheckConstraint(
                condition=Q(revoked_at__isnull=True) | Q(revoked_at__gte=F("issued_at")),
                name="machine_token_taken_back_after_issue",
            ),
        )

    def __str__(self) -> str:
        return f"{self.name} ({self.begins_with}…)"

    def depots_in_sight(self) -> DepotQuerySet:
        """The depots that the system may see: the named ones, or all when none is named."""
        named = list(self.depots.values_list("pk", flat=True))
        found = Depot.objects.filter(pk__in=named) if named else Depot.objects.all()
        return found.order_by("code")

    def sees_all(self) -> bool:
        """Whether no depot is named; queries."""
        return not self.depots.exists()

    def revoke(self, *, by: models.Model | None, at: datetime) -> None:
        """Take it back; asked for twice, the first moment stays."""
        type(self).objects.in_force().filter(pk=self.pk).update(revoked_at=at, revoked_by=by)
        self.refresh_from_db(fields=["revoked_at", "revoked_by"])
