"""One small world: a depot with an object of every kind that an address can name."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from django.core.files.uploadedfile import SimpleUploadedFile

from analytics.models import Computation, DueState, PlanRun, Proposal
from fleetdoors.models import Depot, DoorUnit, LayUp, User
from inspections.models import (
    Attachment,
    OrderCharge,
    PartReservation,
    PartReturn,
    PartUsed,
    StockMovement,
    StockTransfer,
)
from inspections.services.attachments import Received
from inspections.services.documents import add_document
from inspections.services.fleet_folder.uploads import keep_upload
from inspections.services.issuing import Said
from inspections.services.labels import issue_label
from inspections.services.receiving import Delivered, receive_line
from tests.announced_factories import make_campaign
from tests.catalogue_factories import make_change
from tests.cost_factories import make_invoice, make_rate
from tests.desk_factories import make_calendar, make_check, make_look
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door,
    make_door_model,
    make_fault,
    make_fitment,
    make_part,
    make_reading,
    make_task_done,
    make_truck,
    make_user,
)
from tests.machine_factories import make_token
from tests.pages.planner_rows import days, make_due, make_figures, make_outlook, make_suspect
from tests.schedule_factories import make_acceptance
from tests.stock_factories import make_placed_order, make_supplier, make_van, shelf_of, stocked
from tests.truck_factories import (
    make_attachment,
    make_defect_report,
    make_follow_up,
    make_hold,
    make_inspection,
    make_measurement,
    make_open_visit,
    make_spring_word,
    make_trace,
)

Keys = dict[str, str | int]
Objects = dict[str, Keys]


def make_depot_world(*, mark: str, run: Computation) -> Objects:
    """A depot with all it can have; every name that a page could show begins with the mark."""
    depot = make_depot(code=f"{mark}DEPOT")
    truck = make_truck(fleet_number=f"{mark}TRUCK", depot=depot)
    door = make_door(serial=f"{mark}DOOR", truck=truck)
    worker = make_user(username=f"{mark}worker", depots=[depot])
    run_of = make_figures(run=run, door=door)
    make_due(run=run, door=door, state=DueState.LATE, due_on=days(-3))
    assert run_of.depot == depot
    return {
        "depot": {"code": depot.code},
        "truck": {"truck": truck.fleet_number},
        "door": {"door": door.serial},
        "due task": {"door": door.serial, "task": "LUB"},
        "lay-up": {"pk": LayUp.objects.create(truck=truck, from_on=days(-4)).pk},
        "label": {"code": issue_label(door=door, issued_at=NOW).code},
        "spring word": {"pk": make_spring_word(person=worker).pk},
        "calendar": {"pk": make_calendar(depot=depot, label=f"{mark}feed").feed.pk},
        **_at_the_truck(door, run, worker),
        **_in_stores(depot, door, run, mark),
        **_plans(depot, worker),
    }


def _at_the_truck(door: DoorUnit, run: Computation, worker: User) -> Objects:
    """What a technician leaves behind on a door."""
    reading = make_reading(door=door, counter_value=4_870, read_by=f"{door}reader")
    make_suspect(run=run, reading=reading)
    inspection = make_inspection(door=door)
    report = make_defect_report(door=door)
    picture: Attachment = make_attachment()
    Attachment.objects.filter(pk=picture.pk).update(defect_report=report)
    rows = {
        "visit": make_open_visit(door=door, technician=worker),
        "inspection": inspection,
        "measurement": make_measurement(inspection=inspection),
        "trace": make_trace(door=door),
        "report": report,
        "attachment": picture,
        "hold": make_hold(door=door),
        "follow-up": make_follow_up(door=door),
        "reading": reading,
        "fault": make_fault(door=door, component=component("motor"), found_at=NOW),
        "task done": make_task_done(door=door, task=make_follow_up().task),
        "look": make_look(check=make_check(door_model=door.door_model), door=door),
    }
    rows["invoice"] = make_invoice(door=door, number=f"{door}R1", supplier=f"{door}supplier")
    make_rate(depot=rows["visit"].depot)
    return {kind: {"pk": row.pk} for kind, row in rows.items()}


def _in_stores(depot: Depot, door: DoorUnit, run: Computation, mark: str) -> Objects:
    """What the parts buyer and the shelf leave behind."""
    part = make_part(part_number=f"{mark}PART", unit_cost=Decimal(20))
    make_outlook(run=run, part=part, depot=depot, suggested_order=4)
    shelf = stocked(depot=depot, part=part)
    supplier = make_supplier(code=f"{mark}SUPPLIER")
    order = make_placed_order(depot=depot, supplier=supplier, wanted={part: 5})
    line = order.lines.get()
    OrderCharge.objects.create(order=order, kind="freight", amount=Decimal(9), entered_at=NOW)
    receipt = receive_line(line=line, delivered=Delivered(1), said=Said(at=NOW, entered_at=NOW))
    transfer = StockTransfer.objects.create(
        part=part,
        from_place=shelf,
        to_place=shelf_of(make_depot(code=f"{mark}SECOND")),
        quantity=2,
        sent_at=NOW,
    )
    claim = PartReturn.objects.create(
        kind="warranty",
        depot=depot,
        part=part,
        supplier=supplier,
        what_is_wrong=f"{mark}dead",
        entered_at=NOW,
    )
    reserved = PartReservation.objects.create(
        depot=depot, part=part, quantity=1, visit=door.visits.first(), reserved_at=NOW
    )
    used = PartUsed.objects.create(
        door=door, part=part, used_at=NOW, quantity=1, depot=depot, entered_at=NOW
    )
    return {
        "stock": {"code": depot.code, "part": part.part_number},
        "order": {"number": order.number},
        "order line": {"pk": line.pk},
        "receipt": {"pk": receipt.pk},
        "van": {"code": depot.code, "pk": make_van(depot=depot, name=f"{mark}van").pk},
        "movement": {"pk": StockMovement.objects.filter(place=shelf).earliest("pk").pk},
        "transfer": {"pk": transfer.pk},
        "claim": {"pk": claim.pk},
        "reservation": {"pk": reserved.pk},
        "part used": {"pk": used.pk},
        "fitted part": {"pk": make_fitment(door=door, component=component("roller")).pk},
        "announced change": {"pk": make_campaign(depot=depot, part=part).pk},
    }


def _plans(depot: Depot, worker: User) -> Objects:
    """A proposal, the run that made it, and a plan accepted before."""
    facts = {"first_on": days(1), "nights": 7, "is_full": True}
    asked = PlanRun.objects.create(asked_at=NOW, asked_by=worker, depots=1, **facts)
    proposal = Proposal.objects.create(
        run=asked, depot=depot, made_at=NOW, by_solver=False, cost=1.0, bound=1.0,
        hours_are_assumed=False, seen="0" * 64, bay_minutes=[480] * 7, trained_minutes=[480] * 7,
        **facts,
    )  # fmt: skip
    return {
        "plan run": {"pk": asked.pk},
        "proposal": {"pk": proposal.pk},
        "accepted plan": {"pk": make_acceptance(depot=depot, person=worker).pk},
    }


def make_shared_objects() -> Objects:
    """What belongs to the whole fleet and to no depot."""
    door_model = make_door_model(code="MODEL")
    document = add_document(
        door_model=door_model,
        title="Springs",
        content=b"%PDF-1.7\n%%EOF",
        received=Received(taken_at=NOW, entered_at=NOW),
    )
    planner = make_user(username="uploader")
    upload = SimpleUploadedFile("depots.csv", b"code\nNORTH\n")
    return {
        "door model": {"code": door_model.code},
        "document": {"pk": document.pk},
        "check": {"pk": make_check(door_model=door_model).pk},
        "part": {"part": make_part(part_number="COMMON").part_number},
        "supplier": {"code": make_supplier(code="SHARED").code},
        "component": {"component": "motor"},
        "kind of change": {"kind": "trucks"},
        "task": {"code": "LUB"},
        "task change": {"pk": make_change().pk},
        "token": {"pk": make_token(depots=[make_depot(code="ELSEWHERE")]).token.pk},
        "upload": {
            "token": keep_upload(files=[upload], owner_id=planner.pk, now=NOW - timedelta(hours=1))
        },
    }
