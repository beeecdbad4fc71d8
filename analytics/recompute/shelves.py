"""Stock as it is now, beside a demand that was forecast before."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime, timedelta

from analytics.assessment.shelf import Shelf, call_for
from analytics.datasets.clock import EPOCH_DATE, AsOf, local_day, moment_in
from analytics.models import Computation, PartOutlook
from fleetdoors.models import Depot, Part
from inspections.services.stock_now import StockNow, stock_of

_SHELF = ("on_hand", "on_order", "suggested_order", "run_out_on", "explanation")


def refresh_shelves(depot_ids: Collection[int] | None, *, as_of: AsOf) -> int:
    """Bring stock, order and run-out day of the depots, or of all, up to date in the rows shown.

    Queries a few times for each depot; returns how many rows changed. The levels stay as forecast.
    """
    run = Computation.objects.current().first()
    # Figures of a past day keep the stock of that day.
    if run is None or run.as_of_on is not None or not isinstance(as_of, datetime):
        return 0
    depots = Depot.objects.all() if depot_ids is None else Depot.objects.filter(pk__in=depot_ids)
    return sum(_refresh(run, depot, as_of) for depot in depots.order_by("code"))


def _refresh(run: Computation, depot: Depot, as_of: AsOf) -> int:
    stock = {each.part.pk: each for each in stock_of(depot=depot, parts=Part.objects.all())}
    today = local_day(moment_in(as_of, depot.zone), depot.zone)
    rows = PartOutlook.objects.filter(generation=run, depot=depot, part__in=stock)
    changed = [row for row in rows.order_by("pk") if _update(row, stock[row.part_id], today)]
    PartOutlook.objects.bulk_update(changed, _SHELF)
    return len(changed)


def _update(row: PartOutlook, now: StockNow, today: float) -> bool:
    """Put the stock of today into a row; whether anything is another than before."""
    expected = None if now.expected_on is None else float((now.expected_on - EPOCH_DATE).days)
    said = {"reserved": float(now.reserved), "expected_day": expected}
    before = (row.on_hand, row.on_order, {name: row.explanation.get(name) for name in said})
    row.on_hand, row.on_order = now.on_hand, now.on_order
    row.explanation |= said
    if before == (row.on_hand, row.on_order, said):
        return False
    arrives = today + float(row.explanation["lead_days"]) if expected is None else expected
    call = call_for(
        Shelf(row.on_hand, row.on_order, arrives, now.reserved),
        reorder_point=row.reorder_point,
        order_up_to=row.order_up_to,
        pack=int(row.explanation["pack"]),
        per_day=row.mean / row.horizon_days,
        today=today,
    )
    row.suggested_order = call.suggested_order
    row.run_out_on = _as_date(call.run_out_day)
    return True


def _as_date(day: float | None) -> date | None:
    return None if day is None else EPOCH_DATE + timedelta(days=int(day))
