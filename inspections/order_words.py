"""What is said about orders: how many are on their way, and how late one is."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleetdoors.templatetags.units import number, short_day
from inspections.models import EXPECTED, OrderState, PurchaseOrder
from inspections.models.purchase_order import PurchaseOrderQuerySet


def list_words(orders: PurchaseOrderQuerySet, today: date) -> str:
    """One sentence over the list; queries three times."""
    placed = orders.filter(state__in=EXPECTED).count()
    drafts = orders.filter(state=OrderState.DRAFT).count()
    late = orders.late(today).count()
    words = [
        ngettext(
            "%(n)s order is with a supplier", "%(n)s orders are with suppliers", placed
        ) % {"n": number(placed)},
        ngettext("%(n)s of them is late", "%(n)s of them are late", late) % {"n": number(late)},
        ngettext(
            "%(n)s is being written", "%(n)s are being written", drafts
        ) % {"n": number(drafts)},
    ]  # fmt: skip
    return ", ".join(words) + "."


def late_words(order: PurchaseOrder, today: date) -> str:
    """Which lines are past the day named for them, or nothing; queries once."""
    if not order.is_expected:
        return ""
    late = [
        _("%(part)s was expected on %(day)s")
        % {"part": line.part, "day": short_day(line.expected_on)}
        for line in order.lines.select_related("part").order_by("expected_on", "pk")
        if line.outstanding and line.expected_on and line.expected_on < today
    ]
    return "; ".join(late)


def state_words(order: Any, today: date) -> str:
    """The state of an order of the list, and whether it is late."""
    words = str(order.get_state_display())
    if order.is_expected and order.next_expected_on and order.next_expected_on < today:
        return _("%(state)s, late") % {"state": words}
    return words
