"""Invoices for work on doors that somebody outside did."""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, DoorUnit, Truck
from fleetdoors.models.record import Record, RecordQuerySet

if TYPE_CHECKING:
    from fleetdoors.models import User


class OutsideInvoiceQuerySet(RecordQuerySet):
    """Invoices by the page's question."""

    def visible_to(self, user: User) -> Self:
        """Invoices for trucks at the depots that a person may see, and for doors in store there."""
        if user.is_superuser or not user.depots.exists():
            return self
        in_store = Q(truck__isnull=True, door__in=DoorUnit.objects.visible_to(user))
        return self.filter(Q(truck__depot__in=Depot.objects.visible_to(user)) | in_store)

    def entered(self) -> Self:
        """Invoices as they came, taken back or not, the latest first; no reversals."""
        rows = self.filter(is_reversal=False).select_related(
            "truck__depot", "door", "correction", "entered_by"
        )
        return rows.order_by("-invoiced_on", "-pk")


class OutsideInvoice(Record):
    """One invoice, or the row that reverses it: the same with the amount below zero.

    All rows together add up to what was spent; nothing is deleted.
    """

    supplier = models.CharField(_("supplier"), max_length=200)
    number = models.CharField(_("invoice number"), max_length=60)
    invoiced_on = models.DateField(_("date of the invoice"))
    amount = models.DecimalField(_("amount"), max_digits=12, decimal_places=2)
    currency = models.CharField(_("currency"), max_length=3)
    truck = models.ForeignKey(
        Truck,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="outside_invoices",
        verbose_name=_("truck"),
    )
    door = models.ForeignKey(
        DoorUnit, models.PROTECT, related_name="outside_invoices", verbose_name=_("door")
    )
    what_for = models.CharField(_("what for"), max_length=300)
    is_reversal = models.BooleanField(_("takes an invoice back"), default=False)

    objects = OutsideInvoiceQuerySet.as_manager()

    class Meta:
        ordering = ("-invoiced_on", "-pk")
        verbose_name = _("outside invoice")
        verbose_name_plural = _("outside invoices")
        constraints = (
            models.CheckConstraint(
                condition=Q(is_reversal=False, amount__gt=0) | Q(is_reversal=True, amount__lt=0),
                name="outside_invoice_reversal_is_below_zero",
            ),
            models.CheckConstraint(
                condition=~Q(supplier="") & ~Q(number="") & ~Q(what_for="") & ~Q(currency=""),
                name="outside_invoice_says_whose_and_what",
            ),
            models.CheckConstraint(
                condition=Q(is_reversal=False) | ~Q(reason=""),
                name="outside_invoice_reversal_says_why",
            ),
            models.UniqueConstraint(
                fields=("supplier", "number"),
                condition=Q(is_reversal=False, superseded_at__isnull=True),
                name="outside_invoice_entered_once",
            ),
        )
        indexes = (models.Index(fields=("invoiced_on",), name="outside_invoice_day"),)

    def __str__(self) -> str:
        return f"{self.supplier} · {self.number} · {self.amount} {self.currency}"
