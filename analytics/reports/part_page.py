"""One part over the depots in sight: everything that its page shows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np
from django.urls import reverse
from django.utils.translation import gettext as _

from analytics.charts.demand import demand_distribution, likely_counts, use_by_month
from analytics.charts.picture import Picture, spread
from analytics.datasets.part_use import used_by_month
from analytics.kernel.count_distribution import match_counts
from analytics.models import DemandMethod, PartOutlook
from analytics.reports.announced_words import of_this_announced
from analytics.reports.basis import Basis
from analytics.reports.component_evidence import fetch_evidence
from analytics.reports.evidence import Evidence
from analytics.reports.part_base import DrivingDoor, ages_picture, driving_doors, fetch_base
from analytics.reports.part_lives import PartsCompared, more_often_than_age, parts_compared
from analytics.reports.part_order import WhyOrder, why_order
from analytics.reports.part_users import PartUsers, part_users
from analytics.reports.part_weeks import WeeksAhead, weeks_ahead
from analytics.reports.part_words import amount, needed_words, order_words, run_out_words
from fleetdoors.models import Depot, Part
from fleetdoors.templatetags.units import UNKNOWN, between, number, per_cent
from inspections.ledger_words import MovementLine, movement_lines
from inspections.models import StockCount, StockMovement

MONTHS, MOVEMENTS = 24, 10


@dataclass(frozen=True)
class Cell:
    """A figure under its heading."""

    label: str
    value: str


@dataclass(frozen=True)
class DepotRow:
    """The part at one depot, in the list of depots."""

    depot: str
    url: str
    is_shown: bool
    cells: list[Cell]


@dataclass(frozen=True)
class DepotAnswer:
    """Everything about the part at the depot that is shown."""

    depot: str
    stock_url: str
    needed: str
    announced: str
    why: WhyOrder
    alarms: list[str]
    weeks: WeeksAhead | None
    pictures: list[Picture]
    doors: list[DrivingDoor]
    compared: PartsCompared | None
    movements: list[MovementLine]


@dataclass(frozen=True)
class PartPage:
    """The page's answer; `shown` is None where nothing is computed for any depot in sight."""

    facts: list[Evidence]
    rows: list[DepotRow]
    shown: DepotAnswer | None
    users: PartUsers


def part_page(
    part: Part,
    depot_ids: tuple[int, ...] | None,
    chosen: Depot | None,
    basis: Basis,
    *,
    now: datetime,
) -> PartPage:
    """The part at each depot in sight, and in full at the one chosen or the first to run out."""
    rows = PartOutlook.objects.filter(generation=basis.run, part=part).at_depots(depot_ids)
    outlooks = list(rows.with_links().soonest_out_first())
    shown = _first_to_run_out([row for row in outlooks if chosen in (None, row.depot)])
    of_component = _same_component(part)
    numbers = _with_predecessors(part, of_component)
    return PartPage(
        facts=_facts(part),
        rows=[_depot_row(row, row is shown, basis.today) for row in outlooks],
        shown=_answer(shown, numbers, of_component, basis.today, now) if shown else None,
        users=part_users(numbers, depot_ids, now=now),
    )


def _first_to_run_out(rows: list[PartOutlook]) -> PartOutlook | None:
    """The shelf that is empty first; of those without a day, the one with the largest need."""
    return min(rows, key=lambda row: (row.run_out_on or date.max, -row.mean), default=None)


def _facts(part: Part) -> list[Evidence]:
    cost = UNKNOWN
    if part.unit_cost is not None:
        cost = f"{number(float(part.unit_cost), 2)} {part.currency}".strip()
    lead = UNKNOWN
    if part.lead_time_days is not None:
        lead = _("%(days)s days") % {"days": number(part.lead_time_days)}
    models = ", ".join(model.code for model in part.fits.all())
    return [
        Evidence(_("Component"), str(part.component or UNKNOWN), ""),
        Evidence(_("Fits"), models or _("every door model"), ""),
        Evidence(_("Unit cost"), cost, ""),
        Evidence(_("Lead time"), lead, ""),
        Evidence(_("Pack"), number(part.pack_size), ""),
        Evidence(_("Marked"), part.rating or UNKNOWN, ""),
        Evidence(
            _("Revision"),
            part.revision or UNKNOWN,
            _("replaces %(part)s") % {"part": part.replaces} if part.replaces else "",
        ),
    ]


def _depot_row(row: PartOutlook, is_shown: bool, today: date) -> DepotRow:
    here = reverse("part-detail", args=[row.part.part_number], query={"depot": row.depot.code})
    return DepotRow(
        depot=str(row.depot),
        url=here,
        is_shown=is_shown,
        cells=[
            Cell(_("Runs out about"), run_out_words(row, today)),
            Cell(_("Needed in 90 days, pieces"), needed_words(row)),
            Cell(_("On hand"), number(row.on_hand)),
            Cell(_("On order"), number(row.on_order)),
            Cell(_("Order at"), number(row.reorder_point)),
            Cell(_("Order now, pieces"), order_words(row)),
        ],
    )


def _answer(
    row: PartOutlook, numbers: set[int], of_component: list[Part], today: date, now: datetime
) -> DepotAnswer:
    count = (
        StockCount.objects.in_force()
        .filter(depot=row.depot, part=row.part, place=None, counted_at__lt=now)
        .order_by("-counted_at", "-pk")
        .first()
    )
    base = fetch_base(row, now=now)
    life = fetch_evidence(row.part.component) if row.part.component else None
    is_base = row.method == DemandMethod.BASE and base is not None and len(base) > 0
    doors: list[DrivingDoor] = []
    if is_base and base is not None and life is not None and life.is_known:
        doors = driving_doors(base, life.forecast_draws(), row.horizon_days)
    pictures = [
        _distribution(row),
        ages_picture(base) if is_base and base is not None else None,
        _history(row, numbers, now),
    ]
    movements = StockMovement.objects.at_depot(row.depot, row.part)[:MOVEMENTS]
    return DepotAnswer(
        depot=str(row.depot),
        stock_url=reverse("stock-ledger", args=[row.depot.code, row.part.part_number]),
        needed=_("%(mean)s pieces are needed in %(days)s days")
        % {"mean": amount(row.mean), "days": number(row.horizon_days)},
        announced=of_this_announced(row.explanation, row.mean),
        why=why_order(row, count),
        alarms=more_often_than_age(row, life, of_component),
        weeks=weeks_ahead(row, today),
        pictures=[each for each in pictures if each is not None],
        doors=doors,
        compared=parts_compared(life, of_component) if life else None,
        movements=movement_lines(movements, may_move=False),
    )


def _distribution(row: PartOutlook) -> Picture | None:
    """Chance of each number of pieces over the horizon; None where none is expected."""
    if row.mean <= 0:
        return None
    demand = match_counts(np.array([row.mean]), np.array([row.variance]))
    counts = likely_counts(demand)
    chance = demand.cdf(counts) - demand.cdf(counts - 1)
    return Picture(
        id="demand",
        finding=_("%(low)s to %(high)s pieces will be needed in %(days)s days, 8 times in 10")
        % {"low": number(row.p10), "high": number(row.p90), "days": number(row.horizon_days)},
        note=_("Expected: %(mean)s. The darker bars are that range.") % {"mean": amount(row.mean)},
        figure=demand_distribution(demand, row.p10, row.p90),
        headings=[_("Pieces"), _("Chance"), _("Chance of at most so many")],
        rows=[
            [
                number(float(counts[k])),
                per_cent(float(chance[k]), 1),
                per_cent(float(demand.cdf(counts[k])[0]), 1),
            ]
            for k in spread(len(counts))
        ],
    )


def _history(row: PartOutlook, numbers: set[int], now: datetime) -> Picture | None:
    """What was used month by month, superseded numbers of the part included."""
    months = _months(now, row.depot)
    since = now - timedelta(days=31 * MONTHS)
    used = used_by_month(numbers, row.depot, since=since, until=now)
    pieces = [used.get(month, 0) for month in months]
    if not any(pieces):
        return None
    last_year = sum(pieces[-12:])
    return Picture(
        id="use",
        finding=_("%(pieces)s used in the last 12 months") % {"pieces": number(last_year)},
        note=_("This month is not over. Months range from %(range)s pieces.")
        % {"range": between(min(pieces[:-1], default=0), max(pieces))},
        figure=use_by_month(months, pieces),
        headings=[_("Month"), _("Pieces used")],
        rows=[[month, number(count)] for month, count in zip(months, pieces, strict=True)],
    )


def _same_component(part: Part) -> list[Part]:
    """All parts that fill the component, itself alone without one; queries once."""
    if part.component is None:
        return [part]
    return list(Part.objects.filter(component=part.component).order_by("part_number"))


def _with_predecessors(part: Part, of_component: list[Part]) -> set[int]:
    """The part and those it replaced, one after another."""
    before = {each.pk: each.replaces_id for each in of_component}
    found, at = {part.pk}, before.get(part.pk)
    while at is not None and at not in found:
        found.add(at)
        at = before.get(at)
    return found


def _months(now: datetime, depot: Depot) -> list[str]:
    """The last months at the depot, the present one last."""
    local = now.astimezone(depot.zone)
    last = local.year * 12 + local.month - 1
    return [f"{each // 12}-{each % 12 + 1:02}" for each in range(last - MONTHS + 1, last + 1)]
