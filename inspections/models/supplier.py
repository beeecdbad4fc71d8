"""Who sells parts, and at what price from which day."""

from __future__ import annotations

from datetime import date
from typing import Self

from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Exists, F, OuterRef, Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Part

CURRENCY = RegexValidator(r"^[A-Z]{3}$", _("A currency is three capital letters, such as USD."))


class SupplierQuerySet(models.QuerySet["Supplier"]):
    """Suppliers by the page's question."""

    def with_counts(self) -> Self:
        """By name, with how many parts they offer and how many orders they have."""
        parts = models.Count("prices__part", distinct=True)
        return self.annotate(
            parts_offered=parts, orders_placed=models.Count("orders", distinct=True)
        ).order_by("name", "code")


class Supplier(models.Model):
    """A firm that parts are bought from."""

    code = models.CharField(_("supplier"), max_length=40, unique=True)
    name = models.CharField(_("name"), max_length=200)
    currency = models.CharField(_("currency"), max_length=3, default="USD", validators=[CURRENCY])
    email = models.EmailField(_("e-mail for orders"), blank=True)
    phone = models.CharField(_("telephone"), max_length=40, blank=True)
    customer_number = models.CharField(_("our customer number"), max_length=40, blank=True)
    note = models.CharField(_("note"), max_length=200, blank=True)
    is_active = models.BooleanField(_("we buy there"), default=True)

    objects = SupplierQuerySet.as_manager()

    class Meta:
        ordering = ("name", "code")
        verbose_name = _("supplier")
        verbose_name_plural = _("suppliers")

    def __str__(self) -> str:
        return self.name or self.code


class SupplierPriceQuerySet(models.QuerySet["SupplierPrice"]):
    """Prices by the page's question."""

    def on_day(self, day: date) -> Self:
        """Each supplier's price of the day, with part and supplier, the cheapest piece first."""
        holds = Q(valid_until__isnull=True) | Q(valid_until__gte=day)
        # A newer price takes the place of the one before without anybody ending that.
        newer = SupplierPrice.objects.filter(
            holds,
            supplier=OuterRef("supplier"),
            part=OuterRef("part"),
            valid_from__gt=OuterRef("valid_from"),
            valid_from__lte=day,
        )
        rows = self.filter(holds, ~Exists(newer), valid_from__lte=day, supplier__is_active=True)
        return rows.select_related("supplier", "part").order_by(
            "part__part_number", "unit_price", "supplier__name", "-valid_from"
        )


class SupplierPrice(models.Model):
    """What a supplier asks for a piece from a day on, in packs, from a minimum, after some days."""

    supplier = models.ForeignKey(
        Supplier, models.PROTECT, related_name="prices", verbose_name=_("supplier")
    )
    part = models.ForeignKey(
        Part, models.PROTECT, related_name="supplier_prices", verbose_name=_("part")
    )
    supplier_part_number = models.CharField(_("their number"), max_length=80, blank=True)
    unit_price = models.DecimalField(_("price of a piece"), max_digits=12, decimal_places=4)
    currency = models.CharField(_("currency"), max_length=3, validators=[CURRENCY])
    pack_size = models.PositiveIntegerField(_("pieces in a pack"), default=1)
    minimum_quantity = models.PositiveIntegerField(_("least order, pieces"), default=1)
    quoted_lead_days = models.FloatField(_("quoted lead time, days"), null=True, blank=True)
    valid_from = models.DateField(_("from"))
    valid_until = models.DateField(_("until"), null=True, blank=True)

    objects = SupplierPriceQuerySet.as_manager()

    class Meta:
        ordering = ("part", "supplier", "-valid_from")
        verbose_name = _("price")
        verbose_name_plural = _("prices")
        constraints = (
            models.UniqueConstraint(
                fields=("supplier", "part", "valid_from"), name="supplier_price_once_a_day"
            ),
            models.CheckConstraint(
                condition=Q(unit_price__gte=0), name="supplier_price_not_negative"
            ),
            models.CheckConstraint(
                condition=Q(pack_size__gte=1), name="supplier_price_pack_at_least_one"
            ),
            models.CheckConstraint(
                condition=Q(minimum_quantity__gte=1), name="supplier_price_minimum_at_least_one"
            ),
            models.CheckConstraint(
                condition=Q(quoted_lead_days__isnull=True) | Q(quoted_lead_days__gte=0),
                name="supplier_price_lead_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(valid_until__isnull=True) | Q(valid_until__gte=F("valid_from")),
                name="supplier_price_ends_after_start",
            ),
        )

    def __str__(self) -> str:
        return f"{self.supplier} · {self.part} · {self.unit_price} {self.currency}"

    def fitting_quantity(self, pieces: int) -> int:
        """The least number of pieces that covers the need in whole packs, from the minimum on."""
        wanted = max(pieces, self.minimum_quantity)
        return -(-wanted // self.pack_size) * self.pack_size
