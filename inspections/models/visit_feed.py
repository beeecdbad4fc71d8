"""Calendar feeds: a depot's visits behind an address that nobody can guess."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot


class VisitFeedQuerySet(models.QuerySet["VisitFeed"]):
    """Feeds by the page's question."""

    def in_force(self) -> VisitFeedQuerySet:
        """Feeds that nobody has ended."""
        return self.filter(ended_at__isnull=True)

    def newest_first(self) -> VisitFeedQuerySet:
        """Those in force first, with what a list shows."""
        return self.select_related("depot", "made_by").order_by(
            F("ended_at").desc(nulls_first=True), "-made_at", "-pk"
        )


class VisitFeed(models.Model):
    """One address of a depot's visits; only a digest of its secret is kept."""

    depot = models.ForeignKey(Depot, models.PROTECT, related_name="feeds", verbose_name=_("depot"))
    label = models.CharField(_("for whom"), max_length=80)
    digest = models.CharField(_("digest"), max_length=64, unique=True)
    made_at = models.DateTimeField(_("made at"))
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("made by"),
    )
    ended_at = models.DateTimeField(_("ended at"), null=True, blank=True)

    objects = VisitFeedQuerySet.as_manager()

    class Meta:
        ordering = ("depot", "made_at", "pk")
        verbose_name = _("calendar feed")
        verbose_name_plural = _("calendar feeds")
        constraints = (
            models.CheckConstraint(condition=~Q(label=""), name="visit_feed_is_for_somebody"),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=F("made_at")),
                name="visit_feed_ends_after_start",
            ),
        )

    def __str__(self) -> str:
        return f"{self.depot} · {self.label}"

    def end(self, *, at: datetime) -> None:
        """Close the address; asked for twice, the first moment stays."""
        type(self).objects.in_force().filter(pk=self.pk).update(ended_at=at)
        self.refresh_from_db(fields=["ended_at"])
