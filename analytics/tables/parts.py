"""Parts by depot: the list, and the same rows as a sheet."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

import django_tables2 as tables
from django.db.models import F
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from analytics.models import PartOutlook
from analytics.models.part_outlook import PartOutlookQuerySet
from analytics.reports.announced_words import of_this_announced
from analytics.reports.part_words import (
    method_words,
    needed_words,
    order_words,
    run_out_note,
    run_out_words,
)
from analytics.tables.due_sheet import Cell
from fleetdoors.templatetags.units import number

NUMBER = {"th": {"class": "num"}, "td": {"class": "num"}}
_FETCHED_AT_ONCE = 2_000


class PartTable(tables.Table):
    """One row for each part at each depot."""

    part = tables.Column(
        _("Part"), order_by=("part__name", "part__part_number", "depot"), accessor="part"
    )
    depot = tables.Column(_("Depot"), order_by=("depot__name", "part__name"))
    run_out = tables.Column(_("Runs out about"), accessor="pk", attrs={"td": {"class": "line"}})
    needed = tables.Column(
        _("Needed in 90 days, pieces"), accessor="pk", order_by="mean", attrs=NUMBER
    )
    on_hand = tables.Column(_("On hand"), attrs=NUMBER, default="–")
    on_order = tables.Column(_("On order"), attrs=NUMBER, default="–")
    reorder_point = tables.Column(_("Order at"), attrs=NUMBER)
    order = tables.Column(_("Order now, pieces"), accessor="pk", order_by="suggested_order")

    class Meta:
        template_name = "components/table.html"
        empty_text = _("No part is listed. Choose fewer conditions above.")

    def __init__(self, rows: PartOutlookQuerySet, *, today: date) -> None:
        super().__init__(rows, order_by="run_out")
        self.today = today

    def order_run_out(self, rows: PartOutlookQuerySet, is_descending: bool) -> tuple[Any, bool]:
        """By day, those without one last both ways round."""
        if is_descending:
            return rows.order_by(F("run_out_on").desc(nulls_last=True), "-part__part_number"), True
        return rows.soonest_out_first(), True

    def render_part(self, record: PartOutlook) -> SafeString:
        """Its name, with the number it is bought by."""
        url = reverse(
            "part-detail", args=[record.part.part_number], query={"depot": record.depot.code}
        )
        return format_html(
            '<a href="{}">{}</a> <small>{}</small>', url, record.part.name, record.part.part_number
        )

    def render_run_out(self, record: PartOutlook) -> SafeString:
        """The day, and how far away it is."""
        note = run_out_note(record, self.today)
        words = run_out_words(record, self.today)
        return format_html("<strong>{}</strong> <small>{}</small>", words, note)

    def render_needed(self, record: PartOutlook) -> SafeString:
        """Expected pieces with their range, and what that rests on."""
        announced = of_this_announced(record.explanation, record.mean)
        notes = " · ".join(each for each in (method_words(record), announced) if each)
        return format_html("{} <small>{}</small>", needed_words(record), notes)

    def render_on_hand(self, value: int) -> str:
        """Pieces on the shelf."""
        return number(value)

    def render_on_order(self, value: int) -> str:
        """Pieces under way."""
        return number(value)

    def render_reorder_point(self, value: int) -> str:
        """The number at which to order."""
        return number(value)

    def render_order(self, record: PartOutlook) -> SafeString | str:
        """What to order now stands out; nothing does not."""
        words = order_words(record)
        return format_html("<strong>{}</strong>", words) if record.suggested_order else words


def headings() -> list[str]:
    """What the columns of the sheet hold, with units."""
    return [
        _now("Depot"),
        _now("Part"),
        _now("Name"),
        _now("Component"),
        _now("On hand, pieces"),
        _now("On order, pieces"),
        _now("Horizon, days"),
        _now("Needed, expected pieces"),
        _now("Needed, low (1 in 10)"),
        _now("Needed, high (1 in 10)"),
        _now("Rests on"),
        _now("Runs out about"),
        _now("Order at, pieces"),
        _now("Order up to, pieces"),
        _now("Order now, pieces"),
        _now("Pack, pieces"),
        _now("Service level"),
        _now("Unit cost"),
        _now("Currency"),
    ]


def sheet_rows(rows: PartOutlookQuerySet) -> Iterator[list[Cell]]:
    """One row per part and depot, fetched as they are written."""
    for row in rows.iterator(chunk_size=_FETCHED_AT_ONCE):
        yield _sheet_row(row)


def _sheet_row(row: PartOutlook) -> list[Cell]:
    part = row.part
    return [
        row.depot.code,
        part.part_number,
        part.name,
        part.component.name if part.component else None,
        row.on_hand,
        row.on_order,
        row.horizon_days,
        round(row.mean, 2),
        row.p10,
        row.p90,
        str(row.get_method_display()),
        row.run_out_on,
        row.reorder_point,
        row.order_up_to,
        row.suggested_order,
        part.pack_size,
        row.service_level,
        None if part.unit_cost is None else float(part.unit_cost),
        part.currency or None,
    ]
