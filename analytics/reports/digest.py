"""The morning mail: what is new since the last one, for the depots a person looks after."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.models import DueState, DueTask, PartOutlook
from analytics.models.due_task import DueTaskQuerySet
from analytics.models.part_outlook import PartOutlookQuerySet
from analytics.reports.basis import basis_at
from analytics.reports.part_words import order_words, run_out_words
from analytics.reports.scope import depot_ids_of
from analytics.reports.standing import stands
from fleetdoors.models import Depot, Role, User
from fleetdoors.templatetags.units import day as full_day
from fleetdoors.templatetags.units import number
from inspections.models import DefectReport, RoadHold

MOST_LINES = 20
# A shelf that is likely to be empty within so many days is worth a line.
RUN_OUT_DAYS = 14


@dataclass(frozen=True)
class DigestSection:
    """One question of the mail, with its lines and how many more there are."""

    title: str
    lines: list[str]
    more: int


@dataclass(frozen=True)
class Digest:
    """A mail for one person; `sections` without lines are left out."""

    subject: str
    since: datetime
    sections: list[DigestSection]

    @property
    def is_empty(self) -> bool:
        """Whether there is nothing to say: then nothing is sent."""
        return not self.sections

    def text(self, address: str) -> str:
        """The mail as plain text, with the way to the pages."""
        parts = [self.subject, ""]
        for section in self.sections:
            parts += [section.title, *(f"- {line}" for line in section.lines)]
            if section.more:
                parts.append(
                    ngettext("- and %(n)s more", "- and %(n)s more", section.more)
                    % {"n": number(section.more)}
                )
            parts.append("")
        parts.append(_("All of it: %(address)s") % {"address": address})
        page = f"{address}digest/"
        parts.append(_("You asked for this mail. To end it: %(page)s") % {"page": page})
        return "\n".join(parts)


def digest_for(person: User, *, since: datetime, now: datetime) -> Digest:
    """What is new for the person since the moment; runs a constant number of queries."""
    depot_ids = depot_ids_of(person)
    basis = basis_at(depot_ids, now=now)
    zone_day = basis.today
    found: list[DigestSection | None] = []
    if person.has_any_role(Role.PLANNER):
        late = DueTask.objects.filter(generation=basis.run).at_depots(depot_ids)
        late = late.filter(stands(DueState.LATE, basis), window_closes_on__gte=since.date())
        found += [_holds(person, since), _reports(person, since), _late(late, zone_day)]
    if person.has_any_role(Role.PLANNER, Role.BUYER):
        shelves = PartOutlook.objects.filter(generation=basis.run).at_depots(depot_ids)
        found.append(_run_outs(shelves, zone_day))
    sections = [each for each in found if each is not None]
    return Digest(_("fleetdoors, %(day)s") % {"day": full_day(zone_day)}, since, sections)


def _section(title: str, lines: list[str]) -> DigestSection | None:
    if not lines:
        return None
    return DigestSection(title, lines[:MOST_LINES], max(len(lines) - MOST_LINES, 0))


def _holds(person: User, since: datetime) -> DigestSection | None:
    depots = Depot.objects.visible_to(person)
    placed = RoadHold.objects.standing().at_depots(depots).filter(placed_at__gt=since)
    return _section(
        _("Not to be driven or powered, new"),
        [
            f"{hold.truck or hold.door}: {hold.get_because_display()}"
            for hold in placed.select_related("truck", "door")
        ],
    )


def _reports(person: User, since: datetime) -> DigestSection | None:
    depots = Depot.objects.visible_to(person)
    reports = DefectReport.objects.unanswered().at_depots(depots).filter(reported_at__gt=since)
    return _section(
        _("Drivers' reports, new"),
        [
            f"{report.truck or report.door}: {report.get_complaint_display()}"
            for report in reports.select_related("truck", "door")
        ],
    )


def _late(late: DueTaskQuerySet, today: date) -> DigestSection | None:
    rows = late.with_links().soonest_first()[: MOST_LINES * 50]
    return _section(
        _("Late since the last mail"),
        [
            _("%(truck)s: %(task)s, due %(day)s")
            % {
                "truck": row.truck or row.door,
                "task": row.task,
                "day": full_day(row.due_on or today),
            }
            for row in rows
        ],
    )


def _run_outs(shelves: PartOutlookQuerySet, today: date) -> DigestSection | None:
    soon = shelves.to_order().filter(run_out_on__lte=today + timedelta(days=RUN_OUT_DAYS))
    return _section(
        _("Parts that will run out within two weeks"),
        [
            _("%(part)s at %(depot)s: %(out)s; order %(pieces)s")
            % {
                "part": row.part.name,
                "depot": row.depot,
                "out": run_out_words(row, today),
                "pieces": order_words(row),
            }
            for row in soon.with_links().soonest_out_first()[: MOST_LINES * 50]
        ],
    )
