"""What became of an order after it was written: each step is a row that stays."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from inspections.models.purchase_order import OrderLine, PurchaseOrder


class OrderStepKind(models.TextChoices):
    """What happened to an order or one of its lines."""

    PLACED = "placed", _("placed")
    NEW_DAY = "new_day", _("another day named")
    CALLED_OFF = "called_off", _("called off")
    REMINDED = "reminded", _("supplier reminded")


class OrderStep(models.Model):
    """One step; `day` is the day named for the delivery, `pieces` how many were called off."""

    order = models.ForeignKey(
        PurchaseOrder, models.PROTECT, related_name="steps", verbose_name=_("order")
    )
    line = models.ForeignKey(
        OrderLine,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="steps",
        verbose_name=_("line of an order"),
    )
    kind = models.CharField(_("step"), max_length=10, choices=OrderStepKind)
    day = models.DateField(_("day named"), null=True, blank=True)
    pieces = models.PositiveIntegerField(_("pieces"), default=0)
    note = models.CharField(_("note"), max_length=200, blank=True)
    entered_at = models.DateTimeField(_("entered at"))
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("entered by"),
    )

    class Meta:
        ordering = ("order", "entered_at", "pk")
        verbose_name = _("step of an order")
        verbose_name_plural = _("steps of an order")
        constraints = (
            models.CheckConstraint(
                condition=~Q(kind="called_off")
                | Q(line__isnull=False, pieces__gte=1) & ~Q(note=""),
                name="order_step_called_off_says_why",
            ),
            models.CheckConstraint(
                condition=~Q(kind="new_day") | Q(line__isnull=False, day__isnull=False),
                name="order_step_new_day_names_it",
            ),
        )

    def __str__(self) -> str:
        return f"{self.order} · {self.get_kind_display()}"
