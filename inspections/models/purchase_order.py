"""Orders to suppliers, line by line."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Self

from django.conf import settings
from django.db import models
from django.db.models import Exists, F, Min, OuterRef, Q, Sum
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, Part
from inspections.models.supplier import CURRENCY, Supplier

if TYPE_CHECKING:
    from fleetdoors.models import User


class OrderState(models.TextChoices):
    """Where an order stands, in the words of its page."""

    DRAFT = "draft", _("being written")
    PLACED = "placed", _("with the supplier")
    PART_HERE = "part_here", _("partly here")
    ALL_HERE = "all_here", _("all here")
    CALLED_OFF = "called_off", _("called off")


class PurchaseOrderQuerySet(models.QuerySet["PurchaseOrder"]):
    """Orders by the page's question."""

    def visible_to(self, user: User) -> Self:
        """Orders for the depots that a person may see."""
        return self.filter(depot__in=Depot.objects.visible_to(user))

    def still_open(self) -> Self:
        """Being written, or with pieces still to come."""
        return self.filter(Q(state=OrderState.DRAFT) | Q(state__in=EXPECTED))

    def late(self, today: date) -> Self:
        """Placed, with a line whose day is past and whose pieces are not all here."""
        waiting = OrderLine.objects.outstanding().filter(order=OuterRef("pk"))
        return self.filter(Exists(waiting.filter(expected_on__lt=today)))

    def with_sums(self) -> Self:
        """With supplier, depot, and the pieces and money of their lines; the latest first."""
        rows = self.select_related("supplier", "depot", "placed_by", "entered_by").annotate(
            pieces=Sum("lines__quantity"),
            pieces_received=Sum("lines__received"),
            pieces_called_off=Sum("lines__called_off"),
            value=Sum(F("lines__quantity") * F("lines__unit_price")),
            next_expected_on=Min(
                "lines__expected_on",
                filter=Q(
                    lines__quantity__gt=F("lines__received") + F("lines__called_off"),
                ),
            ),
        )
        return rows.order_by("-entered_at", "-pk")


# Pieces of these are on their way.
EXPECTED = (OrderState.PLACED, OrderState.PART_HERE)


class PurchaseOrder(models.Model):
    """What was asked of a supplier for a depot; written first, then placed."""

    number = models.CharField(_("order"), max_length=40, unique=True)
    supplier = models.ForeignKey(
        Supplier, models.PROTECT, related_name="orders", verbose_name=_("supplier")
    )
    depot = models.ForeignKey(
        Depot, models.PROTECT, related_name="orders", verbose_name=_("delivered to")
    )
    currency = models.CharField(_("currency"), max_length=3, validators=[CURRENCY])
    state = models.CharField(
        _("state"), max_length=10, choices=OrderState, default=OrderState.DRAFT
    )
    supplier_reference = models.CharField(_("supplier's reference"), max_length=80, blank=True)
    note = models.CharField(_("note"), max_length=500, blank=True)
    entered_at = models.DateTimeField(_("entered at"))
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("entered by"),
    )
    placed_at = models.DateTimeField(_("placed at"), null=True, blank=True)
    placed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("placed by"),
    )
    ended_at = models.DateTimeField(_("ended at"), null=True, blank=True)
    called_off_reason = models.CharField(_("why it was called off"), max_length=200, blank=True)

    objects = PurchaseOrderQuerySet.as_manager()

    class Meta:
        ordering = ("-entered_at", "-pk")
        verbose_name = _("order")
        verbose_name_plural = _("orders")
        indexes = (models.Index(fields=("state", "depot"), name="order_standing"),)
        constraints = (
            models.CheckConstraint(
                condition=~Q(state__in=(*EXPECTED, OrderState.ALL_HERE))
                | Q(placed_at__isnull=False),
                name="order_placed_has_its_moment",
            ),
            models.CheckConstraint(
                condition=~Q(state=OrderState.CALLED_OFF) | ~Q(called_off_reason=""),
                name="order_called_off_says_why",
            ),
            models.CheckConstraint(
                condition=Q(
                    state__in=(OrderState.ALL_HERE, OrderState.CALLED_OFF), ended_at__isnull=False
                )
                | Q(state__in=(OrderState.DRAFT, *EXPECTED), ended_at__isnull=True),
                name="order_ended_has_its_moment",
            ),
        )

    def __str__(self) -> str:
        return self.number

    @property
    def is_draft(self) -> bool:
        """Whether it can still be written."""
        return self.state == OrderState.DRAFT

    @property
    def is_expected(self) -> bool:
        """Whether pieces of it are on their way."""
        return self.state in EXPECTED


class OrderLineQuerySet(models.QuerySet["OrderLine"]):
    """Order lines by the page's question."""

    def outstanding(self) -> Self:
        """Lines of placed orders with pieces still to come."""
        return self.filter(order__state__in=EXPECTED).filter(
            quantity__gt=F("received") + F("called_off")
        )

    def being_written(self) -> Self:
        """Lines of orders that nobody has placed yet."""
        return self.filter(order__state=OrderState.DRAFT)

    def with_code(self, code: str) -> Self:
        """Lines that a typed or scanned code means: of the order, of the part, here or there."""
        return self.filter(
            Q(order__number__iexact=code)
            | Q(order__supplier_reference__iexact=code)
            | Q(part__part_number__iexact=code)
            | Q(supplier_part_number__iexact=code)
        )

    def with_links(self) -> Self:
        """With part, order and supplier, in the order written."""
        return self.select_related("part", "order__supplier", "order__depot").order_by(
            "order", "pk"
        )


class OrderLine(models.Model):
    """Pieces of one part on an order; what is not called off is received, perhaps bit by bit."""

    order = models.ForeignKey(
        PurchaseOrder, models.PROTECT, related_name="lines", verbose_name=_("order")
    )
    part = models.ForeignKey(
        Part, models.PROTECT, related_name="order_lines", verbose_name=_("part")
    )
    supplier_part_number = models.CharField(_("their number"), max_length=80, blank=True)
    quantity = models.PositiveIntegerField(_("pieces"))
    unit_price = models.DecimalField(
        _("price of a piece"), max_digits=12, decimal_places=4, null=True, blank=True
    )
    quoted_lead_days = models.FloatField(_("quoted lead time, days"), null=True, blank=True)
    expected_on = models.DateField(_("expected on"), null=True, blank=True)
    received = models.PositiveIntegerField(_("received, pieces"), default=0)
    called_off = models.PositiveIntegerField(_("called off, pieces"), default=0)
    called_off_reason = models.CharField(_("why it was called off"), max_length=200, blank=True)
    why = models.CharField(_("why it is ordered"), max_length=500, blank=True)

    objects = OrderLineQuerySet.as_manager()

    class Meta:
        ordering = ("order", "pk")
        verbose_name = _("line of an order")
        verbose_name_plural = _("lines of an order")
        constraints = (
            models.UniqueConstraint(fields=("order", "part"), name="order_line_part_once"),
            models.CheckConstraint(condition=Q(quantity__gte=1), name="order_line_at_least_one"),
            models.CheckConstraint(
                condition=Q(quantity__gte=F("received") + F("called_off")),
                name="order_line_receives_at_most_what_was_ordered",
            ),
            models.CheckConstraint(
                condition=Q(unit_price__isnull=True) | Q(unit_price__gte=0),
                name="order_line_price_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(called_off=0) | ~Q(called_off_reason=""),
                name="order_line_called_off_says_why",
            ),
        )

    def __str__(self) -> str:
        return f"{self.order} · {self.part}"

    @property
    def outstanding(self) -> int:
        """Pieces still to come."""
        return self.quantity - self.received - self.called_off
