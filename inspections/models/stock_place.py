"""Where pieces lie: a depot's shelf, its vans, and the corner for pieces set aside."""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot

if TYPE_CHECKING:
    from fleetdoors.models import User


class PlaceKind(models.TextChoices):
    """What a place is for; pieces set aside are not there for work."""

    SHELF = "shelf", _("shelf")
    VAN = "van", _("service van")
    SET_ASIDE = "set_aside", _("set aside")


FOR_WORK = (PlaceKind.SHELF, PlaceKind.VAN)


class StockPlaceQuerySet(models.QuerySet["StockPlace"]):
    """Places by the page's question."""

    def visible_to(self, user: User) -> Self:
        """Places of the depots that a person may see, depot by depot, the shelf first."""
        return self.filter(depot__in=Depot.objects.visible_to(user)).in_order()

    def in_order(self) -> Self:
        """By depot, the shelf first, then vans by name, what is set aside last."""
        rank = models.Case(
            models.When(kind=PlaceKind.SHELF, then=0),
            models.When(kind=PlaceKind.VAN, then=1),
            default=2,
            output_field=models.IntegerField(),
        )
        return self.select_related("depot").order_by("depot__code", rank, "name", "pk")

    def vans_of(self, person: User | None, depot: Depot) -> Self:
        """The person's own vans at the depot."""
        if person is None:
            return self.none()
        return self.filter(depot=depot, kind=PlaceKind.VAN, keeper=person).order_by("name", "pk")

    def for_work(self) -> Self:
        """Places whose pieces can be fitted: shelves and vans."""
        return self.filter(kind__in=FOR_WORK)


class StockPlace(models.Model):
    """A place of a depot with stock of its own."""

    depot = models.ForeignKey(
        Depot, models.PROTECT, related_name="stock_places", verbose_name=_("depot")
    )
    kind = models.CharField(_("kind"), max_length=10, choices=PlaceKind)
    name = models.CharField(_("name"), max_length=80, blank=True)
    keeper = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.SET_NULL,
        null=True,
        blank=True,
        related_name="vans",
        verbose_name=_("whose van"),
    )

    objects = StockPlaceQuerySet.as_manager()

    class Meta:
        ordering = ("depot", "kind", "name")
        verbose_name = _("place of stock")
        verbose_name_plural = _("places of stock")
        constraints = (
            models.UniqueConstraint(
                fields=("depot", "kind"),
                condition=~Q(kind=PlaceKind.VAN),
                name="stock_place_one_shelf_a_depot",
            ),
            models.UniqueConstraint(
                fields=("depot", "name"),
                condition=Q(kind=PlaceKind.VAN),
                name="stock_place_van_once",
            ),
            models.CheckConstraint(
                condition=~Q(kind=PlaceKind.VAN) | ~Q(name=""), name="stock_place_van_has_name"
            ),
        )

    def __str__(self) -> str:
        if self.kind == PlaceKind.VAN:
            return f"{self.depot} · {self.name}"
        return f"{self.depot} · {self.get_kind_display()}"

    @property
    def is_for_work(self) -> bool:
        """Whether its pieces can be fitted."""
        return self.kind in FOR_WORK
