"""Listings of what happened."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

import django_tables2 as tables
from django.db.models import QuerySet
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, Part
from fleetdoors.templatetags.units import moment_at, number, short_day
from inspections.models import PurchaseOrder
from inspections.order_words import state_words
from inspections.services.stock_now import StockNow

NUMBER = {"th": {"class": "num"}, "td": {"class": "num"}}


class StockTable(tables.Table):
    """What should lie at a depot now, part by part; each balance leads to its movements."""

    part = tables.Column(_("Part"), accessor="part", order_by=("part__name",))
    on_hand = tables.Column(_("On hand, pieces"), attrs=NUMBER)
    in_vans = tables.Column(_("Of these in vans, pieces"), attrs=NUMBER)
    reserved = tables.Column(_("Kept for planned work, pieces"), attrs=NUMBER)
    on_order = tables.Column(_("On order, pieces"), attrs=NUMBER)
    counted_at = tables.Column(_("Shelf counted on"), accessor="count__counted_at")
    again = tables.Column(_("Count"), accessor="part__pk", orderable=False)

    class Meta:
        attrs = {"class": "stores"}
        empty_text = _("No part was counted or delivered here yet. Count the first one.")
        order_by = ("part",)

    def __init__(self, data: Sequence[StockNow], *, depot: Depot, may_count: bool) -> None:
        super().__init__(data, exclude=() if may_count else ("again",))
        self.depot = depot

    def render_part(self, value: Part) -> SafeString:
        """The part, with the way to every movement behind its figure."""
        url = reverse("stock-ledger", args=[self.depot.code, value.part_number])
        return format_html('<a href="{}">{}</a>', url, value)

    def render_on_hand(self, value: int, record: StockNow) -> str:
        """Below zero says that more was used than was ever there on record."""
        if value < 0:
            return _now("%(pieces)s, used more than counted") % {"pieces": number(value)}
        if record.needs_count:
            return _now("%(pieces)s, to be counted") % {"pieces": number(value)}
        return number(value)

    def render_counted_at(self, value: datetime) -> str:
        return short_day(value)

    def render_on_order(self, value: int, record: StockNow) -> str:
        if not record.expected_on:
            return number(value)
        return _now("%(pieces)s by %(day)s") % {
            "pieces": number(value),
            "day": short_day(record.expected_on),
        }

    def render_again(self, value: int, record: StockNow) -> SafeString:
        return format_html(
            '<a href="{}?part={}">{}</a>',
            reverse("stock-count-new", args=[self.depot.code]),
            value,
            format_html(
                '{} <span class="visually-hidden">{}</span>', _now("Count"), record.part.name
            ),
        )


class OrderTable(tables.Table):
    """Orders, the latest first: where each stands, and when the next of it is expected."""

    number = tables.Column(_("Order"))
    supplier = tables.Column(_("Supplier"), order_by=("supplier__name",))
    depot = tables.Column(_("Delivered to"), order_by=("depot__code",))
    state = tables.Column(_("Where it stands"))
    next_expected_on = tables.Column(_("Next expected"))
    pieces = tables.Column(_("Ordered, pieces"), attrs=NUMBER)
    pieces_received = tables.Column(_("Received, pieces"), attrs=NUMBER)
    value = tables.Column(_("Value"), attrs=NUMBER)
    placed_at = tables.Column(_("Placed at"))

    class Meta:
        attrs = {"class": "stores"}
        empty_text = _("No order is like that. Choose others above.")

    def __init__(self, data: QuerySet[PurchaseOrder], *, today: date) -> None:
        super().__init__(data)
        self.today = today

    def render_number(self, value: str) -> SafeString:
        return format_html('<a href="{}">{}</a>', reverse("order-detail", args=[value]), value)

    def render_state(self, record: PurchaseOrder) -> str:
        return state_words(record, self.today)

    def render_next_expected_on(self, value: date) -> str:
        return short_day(value)

    def render_value(self, value: Decimal, record: PurchaseOrder) -> str:
        return f"{number(float(value), 2)} {record.currency}"

    def render_placed_at(self, value: datetime, record: PurchaseOrder) -> str:
        return moment_at(value, record.depot)
