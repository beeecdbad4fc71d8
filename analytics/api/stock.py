"""What lies on the shelves, what will be needed, and what to order."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from ninja import Field, Query, Router, Schema

from analytics.api.paging import CODE_SIGNS
from analytics.models import PartOutlook
from fleetdoors.api.access import MachineRequest, Reader, depot_ids, depots_asked_for
from fleetdoors.api.call_limit import CallsAMinute

router = Router(tags=["Stock"], auth=Reader())

Code = Annotated[str, Field(max_length=80, pattern=CODE_SIGNS)]


class StockAsked(Schema):
    """Which shelves are asked for."""

    depot: Code | None = None
    part: Code | None = None
    offset: int = Field(0, ge=0, le=10_000_000)
    limit: int = Field(200, ge=1, le=1_000)


class StockOut(Schema):
    """One part at one depot; a count is null where nobody ever counted."""

    part: str
    depot: str
    on_hand: int | None
    on_order: int | None
    horizon_days: int
    mean: float
    p50: int
    p95: int
    reorder_point: int
    order_up_to: int
    suggested_order: int | None
    run_out_on: date | None


class StockPageOut(Schema):
    """A page of shelves."""

    rows: list[StockOut]
    has_more: bool


@router.get(
    "",
    response=StockPageOut,
    throttle=CallsAMinute(240, of="stock"),
    url_name="stock",
    summary="Parts by depot",
)
def list_stock(request: MachineRequest, asked: Annotated[StockAsked, Query()]) -> StockPageOut:
    """Stock, demand over the horizon and the order suggested, as last computed."""
    shelves = PartOutlook.objects.current().with_links()
    if asked.depot is not None or not request.auth.sees_all():
        shelves = shelves.filter(depot__in=depot_ids(depots_asked_for(request.auth, asked.depot)))
    if asked.part is not None:
        shelves = shelves.filter(part__part_number=asked.part)
    end = asked.offset + asked.limit
    rows = list(shelves.order_by("part__part_number", "depot__code")[asked.offset : end + 1])
    return StockPageOut(
        rows=[_told(row) for row in rows[: asked.limit]], has_more=len(rows) > asked.limit
    )


def _told(row: PartOutlook) -> StockOut:
    return StockOut(
        part=row.part.part_number,
        depot=row.depot.code,
        on_hand=row.on_hand,
        on_order=row.on_order,
        horizon_days=row.horizon_days,
        mean=row.mean,
        p50=row.p50,
        p95=row.p95,
        reorder_point=row.reorder_point,
        order_up_to=row.order_up_to,
        suggested_order=row.suggested_order,
        run_out_on=row.run_out_on,
    )
