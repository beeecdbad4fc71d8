"""Runs of the recomputation: each made one generation of derived rows."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from django.utils.functional import _StrPromise


class ComputationQuerySet(models.QuerySet["Computation"]):
    """Runs by whether their rows are shown."""

    def current(self) -> Self:
        """The run whose rows are shown; none before the first."""
        return self.filter(is_current=True)

    def kept_in_backup(self) -> Self:
        """Runs that go into a backup: one that still writes could never be finished there."""
        return self.current()

    def superseded(self) -> Self:
        """Finished runs whose rows are no longer shown."""
        return self.filter(is_current=False, finished_at__isnull=False)


class Computation(models.Model):
    """One full recomputation, with the fleet-wide parameters that single doors reuse."""

    as_of = models.DateTimeField(_("as of"))
    as_of_on = models.DateField(
        _("as of the start of"),
        null=True,
        blank=True,
        help_text=_("Set when the figures are those of the start of a day at every depot."),
    )
    started_at = models.DateTimeField(_("started at"))
    finished_at = models.DateTimeField(_("finished at"), null=True, blank=True)
    is_current = models.BooleanField(_("current"), default=False)
    doors = models.PositiveIntegerField(_("doors"), default=0)
    seconds = models.FloatField(_("seconds"), null=True, blank=True)
    parameters = models.JSONField(_("parameters"), default=dict)

    objects = ComputationQuerySet.as_manager()

    class Meta:
        ordering = ("-pk",)
        verbose_name = _("computation")
        verbose_name_plural = _("computations")
        constraints = (
            models.UniqueConstraint(
                fields=("is_current",), condition=Q(is_current=True), name="computation_one_current"
            ),
            models.CheckConstraint(
                condition=Q(is_current=False) | Q(finished_at__isnull=False),
                name="computation_current_is_finished",
            ),
        )

    def __str__(self) -> str:
        return f"{self.as_of:%Y-%m-%d %H:%M}"

    @property
    def asked_for(self) -> datetime | date:
        """The moment, or the day at whose start at every depot, the figures are for."""
        return self.as_of if self.as_of_on is None else self.as_of_on


class DerivedQuerySet(models.QuerySet):
    """Derived rows by generation and depot."""

    def current(self) -> Self:
        """Rows of the generation that is shown."""
        return self.filter(generation__is_current=True)

    def kept_in_backup(self) -> Self:
        """Rows that go into a backup: a restored page shows the same figures at once."""
        return self.current()

    def at_depots(self, depot_ids: tuple[int, ...] | None) -> Self:
        """Rows of these depots; every row when None is given."""
        return self if depot_ids is None else self.filter(depot__in=depot_ids)


def generation() -> models.ForeignKey:
    """The run that made a derived row.

    Derived rows can be rebuilt at any time and are written by the hundred thousand, so that the
    database is not asked to check each of their links; each table brings the indexes it needs.
    """
    return link(Computation, _("computation"))


def link(
    to: str | type[models.Model], verbose_name: _StrPromise, *, null: bool = False
) -> models.ForeignKey:
    """A derived row's unchecked link to a row of the record."""
    return models.ForeignKey(
        to,
        models.CASCADE,
        verbose_name=verbose_name,
        null=null,
        blank=null,
        related_name="+",
        db_constraint=False,
        db_index=False,
    )
