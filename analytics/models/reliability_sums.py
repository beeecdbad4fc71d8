"""Cycles, failures and what they come to, of many doors at once."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Self

from django.db import models
from django.db.models import F
from django.utils.translation import gettext_lazy as _

from analytics.models.computation import DerivedQuerySet, generation, link

# So many doors are added up on a page while somebody waits; more of them beforehand.
DOORS_FOR_STORED_SUMS = 5_000


def key_of(depot_ids: Iterable[int] | None) -> str:
    """The name under which the sums of some depots are kept; that of every door is empty."""
    return "" if depot_ids is None else ",".join(str(each) for each in sorted(set(depot_ids)))


class ReliabilitySumsQuerySet(DerivedQuerySet):
    """Sums by what they are of."""

    def of(self, depot_ids: tuple[int, ...] | None, component_id: int | None) -> Self:
        """Sums of these depots (None = every door) and of one component's failures, or all."""
        return self.filter(depots=key_of(depot_ids), component=component_id)

    def mark_changed(self, depot_ids: Iterable[int], doors: int) -> int:
        """Note that doors at these depots have newer figures than the sums; returns how many."""
        changed = {str(each) for each in depot_ids}
        keys = set(self.order_by().values_list("depots", flat=True).distinct())
        held = [key for key in keys if not key or changed & set(key.split(","))]
        rows = self.filter(depots__in=held)
        return rows.update(doors_changed=F("doors_changed") + doors) if held else 0


class ReliabilitySums(models.Model):
    """What the reliability page shows of so many doors that adding them up takes too long."""

    generation = generation()
    depots = models.CharField(_("depots, by number; empty = every door"), max_length=2_000)
    component = link("fleetdoors.Component", _("component"), null=True)
    doors_changed = models.PositiveIntegerField(_("doors with newer figures"), default=0)
    figures = models.JSONField(_("figures"), default=dict)

    objects = ReliabilitySumsQuerySet.as_manager()

    class Meta:
        verbose_name = _("sums of reliability")
        verbose_name_plural = _("sums of reliability")
        constraints = (
            models.UniqueConstraint(
                fields=("generation", "depots", "component"), name="reliability_sums_unique"
            ),
            models.UniqueConstraint(
                fields=("generation", "depots"),
                condition=models.Q(component__isnull=True),
                name="reliability_sums_unique_without_component",
            ),
        )

    def __str__(self) -> str:
        return f"{self.depots or '*'} · {self.component_id or '*'}"
