"""Listings of what happened."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import django_tables2 as tables
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from fleetdoors.templatetags.units import moment, number, short_day
from inspections.services.stock_now import StockNow

NUMBER = {"th": {"class": "num"}, "td": {"class": "num"}}


class StockTable(tables.Table):
    """What should lie at a depot now, part by part; each balance leads to its movements."""

    part = tables.Column(_("Part"), accessor="part", order_by=("part__name",))
    on_hand = tables.Column(_("On hand, pieces"), attrs=NUMBER)
    in_vans = tables.Column(_("Of these in vans, pieces"), attrs=NUMBER)
    reserved = tables.Column(_("Kept for work, pieces"), attrs=NUMBER)
    on_order = tables.Column(_("On order, pieces"), attrs=NUMBER)
    counted = tables.Column(_("Shelf counted, pieces"), accessor="count__on_hand", attrs=NUMBER)
    counted_at = tables.Column(_("Counted at"), accessor="count__counted_at")
    again = tables.Column(_("Count"), accessor="part__pk", orderable=False)

    class Meta:
        empty_text = _("No part was counted here yet. Count the first one above.")
        order_by = ("part",)

    def __init__(self, data: Sequence[StockNow], *, may_count: bool) -> None:
        super().__init__(data, exclude=() if may_count else ("again",))

    def render_on_hand(self, value: int, record: StockNow) -> str:
        """Below zero says that more was used than was ever there on record."""
        if value < 0:
            return _now("%(pieces)s, used more than counted") % {"pieces": number(value)}
        if record.needs_count:
            return _now("%(pieces)s, to be counted") % {"pieces": number(value)}
        return number(value)

    def render_counted_at(self, value: datetime) -> str:
        return moment(value)

    def render_on_order(self, value: int, record: StockNow) -> str:
        if not record.expected_on:
            return number(value)
        return _now("%(pieces)s by %(day)s") % {
            "pieces": number(value),
            "day": short_day(record.expected_on),
        }

    def render_again(self, value: int, record: StockNow) -> SafeString:
        return format_html(
            '<a href="?part={}#count">{}</a>', value, _now("Count %(part)s") % {"part": record.part}
        )
