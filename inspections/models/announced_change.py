"""Announced changes: what is known to be coming and stands in no reading yet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, DoorModel, Part

if TYPE_CHECKING:
    from fleetdoors.models import User

LEAST_FACTOR, MOST_FACTOR = 0.1, 5.0


class AnnouncedKind(models.TextChoices):
    """What is coming."""

    TRUCKS = "trucks", _("new trucks")
    USE = "use", _("another use of trucks")
    CAMPAIGN = "campaign", _("a part changed on many doors")


class AnnouncedChangeQuerySet(models.QuerySet["AnnouncedChange"]):
    """Announced changes by the page's question."""

    def standing(self) -> Self:
        """Those that nobody cancelled."""
        return self.filter(cancelled_at__isnull=True)

    def visible_to(self, user: User) -> Self:
        """Of the depots that a person may see, and of every depot."""
        return self.filter(Q(depot__isnull=True) | Q(depot__in=Depot.objects.visible_to(user)))

    def with_links(self) -> Self:
        """With all that a line names, in the same query; what comes first before."""
        return self.select_related(
            "depot", "door_model", "part", "new_part", "entered_by", "cancelled_by"
        ).order_by("from_on", "pk")


class AnnouncedChange(models.Model):
    """One change as it was announced; it is cancelled and entered anew, never altered.

    Without a depot it holds for all of them. New trucks come at `from_on`, each with one door as
    it leaves the factory; another use and a campaign last until the end of `until_on`.
    """

    kind = models.CharField(_("what is coming"), max_length=10, choices=AnnouncedKind)
    depot = models.ForeignKey(
        Depot,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="announced_changes",
        verbose_name=_("depot"),
    )
    from_on = models.DateField(_("from"))
    until_on = models.DateField(_("until"), null=True, blank=True)
    door_model = models.ForeignKey(
        DoorModel,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="announced_changes",
        verbose_name=_("door model"),
    )
    doors = models.PositiveIntegerField(_("doors"), null=True, blank=True)
    cycles_per_day = models.FloatField(_("cycles a day"), null=True, blank=True)
    route_kind = models.CharField(_("route kind"), max_length=60, blank=True)
    factor = models.FloatField(_("times the use of today"), null=True, blank=True)
    part = models.ForeignKey(
        Part,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="campaigns",
        verbose_name=_("part that comes off"),
    )
    new_part = models.ForeignKey(
        Part,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="campaigns_to_it",
        verbose_name=_("part that is fitted"),
    )
    pieces_per_door = models.PositiveIntegerField(_("pieces on each door"), null=True, blank=True)
    note = models.CharField(_("who says so, and why"), max_length=200)
    entered_at = models.DateTimeField(_("entered at"))
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("entered by"),
    )
    cancelled_at = models.DateTimeField(_("cancelled at"), null=True, blank=True)
    cancelled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("cancelled by"),
    )
    cancelled_because = models.CharField(_("why it was cancelled"), max_length=200, blank=True)

    objects = AnnouncedChangeQuerySet.as_manager()

    class Meta:
        ordering = ("from_on", "pk")
        verbose_name = _("announced change")
        verbose_name_plural = _("announced changes")
        constraints = (
            models.CheckConstraint(
                condition=~Q(kind=AnnouncedKind.TRUCKS)
                | Q(
                    depot__isnull=False,
                    door_model__isnull=False,
                    doors__gte=1,
                    cycles_per_day__gt=0,
                ),
                name="announced_trucks_are_told",
            ),
            models.CheckConstraint(
                condition=~Q(kind=AnnouncedKind.USE)
                | Q(factor__gte=LEAST_FACTOR, factor__lte=MOST_FACTOR),
                name="announced_use_has_factor",
            ),
            models.CheckConstraint(
                condition=~Q(kind=AnnouncedKind.CAMPAIGN)
                | Q(
                    depot__isnull=False,
                    part__isnull=False,
                    new_part__isnull=False,
                    doors__gte=1,
                    pieces_per_door__gte=1,
                    until_on__isnull=False,
                ),
                name="announced_campaign_is_told",
            ),
            models.CheckConstraint(
                condition=Q(until_on__isnull=True) | Q(until_on__gte=F("from_on")),
                name="announced_ends_after_start",
            ),
            models.CheckConstraint(
                condition=Q(cancelled_at__isnull=True) | ~Q(cancelled_because=""),
                name="announced_cancelled_says_why",
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_kind_display()} · {self.depot or _('every depot')} · {self.from_on}"

    @property
    def is_standing(self) -> bool:
        """Whether nobody cancelled it."""
        return self.cancelled_at is None
