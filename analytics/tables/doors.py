"""The list of doors: each with its most pressing task, its cycles and its last reading."""

from __future__ import annotations

from datetime import datetime

import django_tables2 as tables
from django.db.models import QuerySet
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy as _

from analytics.reports.basis import Basis
from analytics.reports.doors_page import DoorRow, door_rows
from analytics.reports.evidence import rate_range
from analytics.reports.wording import near_day, task_words
from analytics.tables.state_cell import state_cell
from fleetdoors.models import DoorUnit
from fleetdoors.templatetags.units import days_away, number

NUMBER = {"th": {"class": "num"}, "td": {"class": "num"}}


class DoorTable(tables.Table):
    """One row per door, by serial, which is what doors are indexed by."""

    serial = tables.Column(_("Truck and door"), orderable=False)
    pressing = tables.Column(_("Most pressing"), accessor="pk", orderable=False)
    cycles_now = tables.Column(_("Cycles now"), accessor="pk", orderable=False, attrs=NUMBER)
    per_day = tables.Column(_("Cycles a day"), accessor="pk", orderable=False, attrs=NUMBER)
    last_read = tables.Column(_("Last reading"), accessor="pk", orderable=False)
    depot = tables.Column(_("Depot"), accessor="pk", orderable=False)
    door_model = tables.Column(_("Door model"), orderable=False)

    class Meta:
        empty_text = _("No door is listed. Choose fewer conditions above.")

    def __init__(self, doors: QuerySet[DoorUnit], *, basis: Basis, now: datetime) -> None:
        super().__init__(doors)
        self.basis = basis
        self.now = now
        self.beside: dict[int, DoorRow] = {}

    def fetch_beside(self) -> None:
        """Fetch what stands beside the doors on the page, in a constant number of queries."""
        doors = [row.record for row in self.paginated_rows]
        self.beside = {row.door.pk: row for row in door_rows(doors, self.basis)}

    def render_serial(self, record: DoorUnit) -> SafeString:
        """The truck as people call it, and the door's own number."""
        truck = self.beside[record.pk].truck
        return format_html(
            '<span class="name"><a href="{}">{}</a> <small>{}</small></span>',
            reverse("door-detail", args=[record.serial]),
            truck or record.serial,
            record.serial if truck else _("on no truck"),
        )

    def render_pressing(self, record: DoorUnit) -> SafeString | str:
        """The slat door of the most pressing task."""
        row = self.beside[record.pk]
        today = self.basis.today
        if record.retired_on and record.retired_on <= today:
            day = near_day(record.retired_on, today)
            return state_cell(share=None, state="out_of_service", words=_("Retired"), detail=day)
        if row.state is None or row.task is None:
            return str(_("Not computed yet"))
        return state_cell(
            share=row.state.share,
            state=row.state.state,
            words=task_words(row.task, row.state.words),
            detail=row.state.detail,
        )

    def render_cycles_now(self, record: DoorUnit) -> str:
        """Carried forward to the day of the figures."""
        figures = self.beside[record.pk].figures
        return number(figures.cycles_now) if figures else "–"

    def render_per_day(self, record: DoorUnit) -> SafeString | str:
        """The rate with its 80 % interval."""
        figures = self.beside[record.pk].figures
        if figures is None:
            return "–"
        rate = number(figures.cycles_per_day, 1 if figures.cycles_per_day < 100 else 0)
        return format_html("{} <small>{}</small>", rate, rate_range(figures))

    def render_last_read(self, record: DoorUnit) -> str:
        """How long ago, since that is what tells whether the figures can be trusted."""
        figures = self.beside[record.pk].figures
        if figures is None or figures.last_read_at is None:
            return str(_("never read"))
        return days_away(figures.last_read_at, self.now)

    def render_depot(self, record: DoorUnit) -> SafeString:
        """The depot of the truck."""
        truck = self.beside[record.pk].truck
        return format_html('<span class="name">{}</span>', truck.depot if truck else "–")

    def render_door_model(self, record: DoorUnit) -> SafeString:
        """The model's code, however long."""
        return format_html('<span class="name">{}</span>', record.door_model)
