"""Claims: pieces under warranty, old units given back for a deposit, wrong or damaged pieces."""

from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, Fitment, Part
from inspections.models.order_receipt import OrderReceipt
from inspections.models.supplier import Supplier


class ClaimKind(models.TextChoices):
    """What is asked of the supplier."""

    WARRANTY = "warranty", _("warranty")
    CORE = "core", _("old unit for its deposit")
    DELIVERY = "delivery", _("wrong or damaged delivery")


class ClaimState(models.TextChoices):
    """Where a claim stands; also the kinds of its steps."""

    SET_ASIDE = "set_aside", _("set aside")
    SENT_BACK = "sent_back", _("sent back")
    CREDITED = "credited", _("credited")
    REPLACED = "replaced", _("replaced")
    REFUSED = "refused", _("refused")
    DROPPED = "dropped", _("dropped")


CLAIM_STEPS = {
    ClaimState.SET_ASIDE: (ClaimState.SENT_BACK, ClaimState.CREDITED, ClaimState.DROPPED),
    ClaimState.SENT_BACK: (ClaimState.CREDITED, ClaimState.REPLACED, ClaimState.REFUSED),
}


class PartReturnQuerySet(models.QuerySet["PartReturn"]):
    """Claims by the page's question."""

    def still_open(self) -> Self:
        """Set aside or sent back, without an answer."""
        return self.filter(state__in=CLAIM_STEPS)

    def with_links(self) -> Self:
        """With part, supplier, depot and the life that ended; those still open first."""
        rows = self.select_related("part", "supplier", "depot", "fitment__door", "receipt")
        is_over = models.Case(
            models.When(state__in=CLAIM_STEPS, then=0),
            default=1,
            output_field=models.IntegerField(),
        )
        return rows.order_by(is_over, "-entered_at", "-pk")


class PartReturn(models.Model):
    """Pieces claimed from a supplier; with days and cycles where a fitted part failed early."""

    kind = models.CharField(_("what is claimed"), max_length=10, choices=ClaimKind)
    state = models.CharField(
        _("state"), max_length=10, choices=ClaimState, default=ClaimState.SET_ASIDE
    )
    depot = models.ForeignKey(Depot, models.PROTECT, related_name="claims", verbose_name=_("depot"))
    part = models.ForeignKey(Part, models.PROTECT, related_name="claims", verbose_name=_("part"))
    supplier = models.ForeignKey(
        Supplier, models.PROTECT, related_name="claims", verbose_name=_("supplier")
    )
    quantity = models.PositiveIntegerField(_("pieces"), default=1)
    # An old unit taken off a door never lay on the shelf: it moves no stock.
    is_from_stock = models.BooleanField(_("lies among the stock set aside"), default=False)
    fitment = models.ForeignKey(
        Fitment,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="claims",
        verbose_name=_("fitted part that failed"),
    )
    receipt = models.ForeignKey(
        OrderReceipt,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="claims",
        verbose_name=_("delivery"),
    )
    serial = models.CharField(_("serial number"), max_length=80, blank=True)
    what_is_wrong = models.CharField(_("what is wrong"), max_length=500)
    entered_at = models.DateTimeField(_("entered at"))
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("entered by"),
    )

    objects = PartReturnQuerySet.as_manager()

    class Meta:
        ordering = ("-entered_at", "-pk")
        verbose_name = _("claim")
        verbose_name_plural = _("claims")
        constraints = (
            models.CheckConstraint(condition=Q(quantity__gte=1), name="claim_at_least_one"),
            models.CheckConstraint(condition=~Q(what_is_wrong=""), name="claim_says_what_is_wrong"),
        )

    def __str__(self) -> str:
        return f"{self.part} · {self.supplier} · {self.get_kind_display()}"


class PartReturnStep(models.Model):
    """A step of a claim: sent back, answered, dropped; with the credit where there is one."""

    claim = models.ForeignKey(
        PartReturn, models.PROTECT, related_name="steps", verbose_name=_("claim")
    )
    kind = models.CharField(_("step"), max_length=10, choices=ClaimState)
    taken_at = models.DateTimeField(_("taken at"))
    entered_at = models.DateTimeField(_("entered at"))
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("entered by"),
    )
    credit = models.DecimalField(
        _("credit"), max_digits=12, decimal_places=2, null=True, blank=True
    )
    currency = models.CharField(_("currency"), max_length=3, blank=True)
    note = models.CharField(_("note"), max_length=500, blank=True)

    class Meta:
        ordering = ("claim", "taken_at", "pk")
        verbose_name = _("step of a claim")
        verbose_name_plural = _("steps of a claim")
        constraints = (
            models.CheckConstraint(
                condition=~Q(kind__in=(ClaimState.REFUSED, ClaimState.DROPPED)) | ~Q(note=""),
                name="claim_step_says_why",
            ),
            models.CheckConstraint(
                condition=~Q(kind=ClaimState.CREDITED) | Q(credit__isnull=False, credit__gte=0),
                name="claim_step_credit_has_an_amount",
            ),
        )

    def __str__(self) -> str:
        return f"{self.claim} · {self.get_kind_display()}"
