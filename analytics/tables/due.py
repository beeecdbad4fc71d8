"""The due list: one row for each task of each door."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.db.models import F
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy as _

from analytics.models import DoorFigures, DueTask
from analytics.models.due_task import DueTaskQuerySet
from analytics.reports.basis import Basis
from analytics.reports.due_page import figures_of
from analytics.reports.wording import task_state
from analytics.tables.state_cell import state_cell
from fleetdoors.models import Depot
from fleetdoors.templatetags.units import duration, per_cent

NUMBER = {"th": {"class": "num"}, "td": {"class": "num"}}


class DueTable(tables.Table):
    """Truck and door, the task, its slat door and words, and the way to the evidence.

    Sorted by date alone: that is what the rows are indexed by, so that a page of a large fleet
    comes as quickly as one of a small one.
    """

    truck = tables.Column(_("Truck and door"), accessor="door", orderable=False)
    due = tables.Column(_("When"), accessor="pk", orderable=True)
    task = tables.Column(_("Task"), orderable=False)
    depot = tables.Column(_("Depot"), orderable=False, default="–")
    chance = tables.Column(
        _("Due within 30 days"),
        accessor="probability_30_days",
        orderable=False,
        attrs=NUMBER,
        default="–",
    )
    minutes = tables.Column(_("Work"), accessor="task__minutes", orderable=False, attrs=NUMBER)
    why = tables.Column(_("Evidence"), accessor="pk", orderable=False)

    class Meta:
        empty_text = _("No task is listed. Choose fewer conditions above.")

    def __init__(self, rows: DueTaskQuerySet, *, basis: Basis) -> None:
        super().__init__(rows, order_by="due")
        self.basis = basis
        self.figures: dict[int, DoorFigures] = {}

    def fetch_figures(self) -> None:
        """Fetch the figures of the doors on the page, in one query."""
        doors = [row.record.door_id for row in self.paginated_rows]
        self.figures = figures_of(doors, self.basis.run)

    def order_due(self, rows: DueTaskQuerySet, is_descending: bool) -> tuple[Any, bool]:
        """By date, those without one last both ways round."""
        if is_descending:
            return rows.order_by(F("due_on").desc(nulls_last=True), "-pk"), True
        return rows.soonest_first(), True

    def render_truck(self, record: DueTask) -> SafeString:
        """The truck as people call it, and the door's own number."""
        return format_html(
            '<span class="name"><a href="{}">{}</a> <small>{}</small></span>',
            reverse("door-detail", args=[record.door.serial]),
            record.truck or _("On no truck"),
            record.door.serial,
        )

    def render_due(self, record: DueTask) -> SafeString:
        """The slat door with its words."""
        state = task_state(record, self.figures.get(record.door_id), self.basis)
        return state_cell(
            share=state.share, state=state.state, words=state.words, detail=state.detail
        )

    def render_depot(self, value: Depot) -> SafeString:
        """The depot's name, however long."""
        return format_html('<span class="name">{}</span>', value)

    def render_chance(self, value: float) -> str:
        """In per cent, never said to be none or certain when it is not quite."""
        return per_cent(value)

    def render_minutes(self, value: int) -> str:
        """Working time of the task alone."""
        return duration(value)

    def render_why(self, record: DueTask) -> SafeString:
        """A link that says what it explains to those who hear the page."""
        return format_html(
            '<a href="{}">{} <span class="visually-hidden">{} {}</span></a>',
            reverse("due-why", args=[record.door.serial, record.task.code]),
            _("Why?"),
            record.task,
            record.truck or record.door,
        )
