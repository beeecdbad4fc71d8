"""Pages of vans, lots and kits of a depot."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleetdoors.models import Depot, MaintenanceTask, PartKit, PartKitLine, Role, TaskKit
from inspections.models import StockBalance, StockPlace
from inspections.services.transfers import set_aside
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door,
    make_fuse_position,
    make_part,
)
from tests.pages.conftest import SignIn
from tests.stock_factories import make_reservation, make_van, said, shelf_of, stocked

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
TODAY = NOW.date()
PAGES = ("van-list", "lot-list", "kit-list")


def text_of(client: Client, name: str, depot: Depot) -> str:
    answer = client.get(reverse(name, args=[depot.code]))
    assert answer.status_code == 200
    return str(answer.content.decode())


def held(place: StockPlace) -> dict[str, int]:
    rows = StockBalance.objects.filter(place=place)
    return {row.part.part_number: row.on_hand for row in rows.select_related("part")}


def test_empty_pages_say_what_to_do(sign_in: SignIn) -> None:
    depot = make_depot()
    buyer = sign_in(Role.BUYER)
    assert "An administrator keeps a van" in text_of(buyer, "van-list", depot)
    assert "Lots come with deliveries" in text_of(buyer, "lot-list", depot)
    assert "A planner says in a task" in text_of(buyer, "kit-list", depot)
    assert "/admin/" in text_of(sign_in(Role.ADMINISTRATOR), "van-list", depot)
    assert reverse("task-list") in text_of(sign_in(Role.PLANNER), "kit-list", depot)


@pytest.mark.parametrize("name", PAGES)
def test_another_depot_is_not_found(sign_in: SignIn, name: str) -> None:
    own, foreign = make_depot(), make_depot()
    client = sign_in(Role.BUYER, depots=[own])
    assert client.get(reverse(name, args=[foreign.code])).status_code == 404


def test_pieces_go_into_a_van_and_out_again(sign_in: SignIn) -> None:
    depot, part = make_depot(), make_part(part_number="FUSE", name="Board fuse")
    shelf, van = stocked(depot=depot, part=part, pieces=5), make_van(depot=depot, name="Van 7")
    client = sign_in(Role.TECHNICIAN)
    assert "Nothing is in it on record" in text_of(client, "van-list", depot)
    url = reverse("van-load", args=[depot.code, van.pk])
    refused = client.post(url, {"part": part.pk, "quantity": 6})
    assert "quantity" in refused.context["form"].errors
    assert client.post(url, {"part": part.pk, "quantity": 2}).status_code == 302
    assert (held(shelf), held(van)) == ({"FUSE": 3}, {"FUSE": 2})
    text = text_of(client, "van-list", depot)
    out = reverse("transfer-new", args=[depot.code, "FUSE"])
    assert f"{out}?from_place={van.pk}&amp;to_place={shelf.pk}" in text
    form = client.get(out, {"from_place": van.pk, "to_place": shelf.pk}).context["form"]
    assert (form["from_place"].value(), form["to_place"].value()) == (str(van.pk), str(shelf.pk))
    client.post(out, {"from_place": van.pk, "to_place": shelf.pk, "quantity": 2})
    assert (held(shelf), held(van)) == ({"FUSE": 5}, {"FUSE": 0})


def test_a_van_of_another_depot_is_not_loaded(sign_in: SignIn) -> None:
    depot, van = make_depot(), make_van(depot=make_depot())
    url = reverse("van-load", args=[depot.code, van.pk])
    assert sign_in(Role.BUYER).get(url).status_code == 404


def test_who_only_looks_is_offered_no_moves(sign_in: SignIn) -> None:
    depot, part = make_depot(), make_part()
    stocked(depot=depot, part=part, lot="A", use_by_on=TODAY)
    van = make_van(depot=depot)
    client = sign_in(Role.PLANNER)
    for name in PAGES:
        text = text_of(client, name, depot)
        assert "Put pieces into" not in text
        assert "/move/" not in text
    assert client.get(reverse("van-load", args=[depot.code, van.pk])).status_code == 403


def test_lots_stand_in_the_order_in_which_they_are_used_up(sign_in: SignIn) -> None:
    depot, part = make_depot(), make_part(part_number="CONV")
    shelf = shelf_of(depot)
    for lot, days in (("LATE", 300), ("SOON", 20), ("PAST", -1), ("NEVER", None)):
        use_by = None if days is None else TODAY + timedelta(days=days)
        stocked(part=part, place=shelf, pieces=2, lot=lot, use_by_on=use_by)
    set_aside(
        place=shelf, part=part, quantity=1, said=said(), reason="wet",
        lot=part.lots.get(number="LATE"),
    )  # fmt: skip
    client = sign_in(Role.BUYER)
    rows = client.get(reverse("lot-list", args=[depot.code])).context["lots"]
    told = [(row.lot.number, row.place.kind, row.pieces, row.rank) for row in rows]
    assert told == [
        ("PAST", "shelf", 2, None),
        ("SOON", "shelf", 2, 1),
        ("LATE", "set_aside", 1, None),
        ("LATE", "shelf", 1, 2),
        ("NEVER", "shelf", 2, 3),
    ]
    text = text_of(client, "lot-list", depot)
    assert "past its last day" in text
    assert "ends soon" in text
    assert "Set aside: may not be fitted" in text


def test_the_ledger_takes_the_lot_that_the_page_names_first(sign_in: SignIn) -> None:
    depot, part = make_depot(), make_part(part_number="CONV")
    shelf = shelf_of(depot)
    for lot, days in (("LATE", 300), ("SOON", 20)):
        stocked(part=part, place=shelf, lot=lot, pieces=2, use_by_on=TODAY + timedelta(days=days))
    client = sign_in(Role.BUYER)
    move = reverse("stock-move", args=[depot.code, "CONV"])
    client.post(move, {"kind": "issue", "place": shelf.pk, "quantity": 1})
    rows = client.get(reverse("lot-list", args=[depot.code])).context["lots"]
    assert [(row.lot.number, row.pieces, row.rank) for row in rows] == [
        ("SOON", 1, 1),
        ("LATE", 2, 2),
    ]
    lot = part.lots.get(number="SOON")
    link = f"{move}?place={shelf.pk}&amp;lot={lot.pk}&amp;kind=aside"
    assert link in text_of(client, "lot-list", depot)
    form = client.get(move, {"place": shelf.pk, "lot": lot.pk, "kind": "aside"}).context["form"]
    assert (form["kind"].value(), form["lot"].value()) == ("aside", str(lot.pk))


def test_a_kit_is_filled_as_often_as_its_scarcest_part_allows(sign_in: SignIn) -> None:
    depot = make_depot()
    seal, screw = make_part(part_number="SEAL", name="Seal"), make_part(name="Screws")
    stocked(depot=depot, part=seal, pieces=7)
    stocked(depot=depot, part=screw, pieces=40)
    task = MaintenanceTask.objects.get(code="SEA")
    TaskKit.objects.create(task=task, part=seal, quantity=2)
    TaskKit.objects.create(task=task, part=screw, quantity=4)
    client = sign_in(Role.BUYER)
    (kit,) = client.get(reverse("kit-list", args=[depot.code])).context["kits"]
    assert (kit.times, [each.part for each in kit.scarce]) == (3, [seal])
    assert "Can be done 3 times from the shelf" in text_of(client, "kit-list", depot)
    make_reservation(depot=depot, part=seal, quantity=2)
    stocked(depot=depot, part=seal, pieces=9, lot="OLD", use_by_on=TODAY - timedelta(days=1))
    (kit,) = client.get(reverse("kit-list", args=[depot.code])).context["kits"]
    assert {each.part: each.free for each in kit.parts} == {seal: 5, screw: 40}
    assert kit.times == 2


def test_a_kit_that_lacks_a_part_says_so(sign_in: SignIn) -> None:
    depot, part = make_depot(), make_part(name="Spring, left wind")
    kit = PartKit.objects.create(code="SPRINGS", name="Springs of a door")
    PartKitLine.objects.create(kit=kit, part=part, quantity=1)
    stocked(place=make_van(depot=depot), part=part, pieces=4)
    text = text_of(sign_in(Role.BUYER), "kit-list", depot)
    assert "Cannot be done from the shelf now" in text
    assert "Springs of a door" in text


def test_the_wrong_fuse_for_a_door_is_refused_and_what_was_typed_is_kept(sign_in: SignIn) -> None:
    door, wrong = make_door(), make_part(component=component("fuse"))
    make_fuse_position(door_model=door.door_model)
    wrong.rating = "blade fuse; 20 A; 32 V DC"
    wrong.save()
    shelf = stocked(part=wrong, pieces=2)
    url = reverse("stock-move", args=[shelf.depot.code, wrong.part_number])
    facts = {"kind": "issue", "place": shelf.pk, "quantity": 1, "door": door.serial}
    answer = sign_in(Role.BUYER).post(url, facts)
    assert "Type, current and voltage must all be the same" in answer.content.decode()
    assert answer.context["form"]["door"].value() == door.serial


@pytest.mark.parametrize("name", PAGES)
def test_pages_ask_the_database_as_often_for_many(sign_in: SignIn, name: str) -> None:
    depot, client, counts = make_depot(), sign_in(Role.BUYER), []
    for _round in range(2):
        for _each in range(3):
            part, van = make_part(), make_van(depot=depot)
            stocked(depot=depot, part=part, lot="L", use_by_on=TODAY)
            stocked(place=van, part=part, pieces=1)
            kit = PartKit.objects.create(code=f"K{part.pk}", name=f"Kit {part.pk}")
            PartKitLine.objects.create(kit=kit, part=part, quantity=1)
        with CaptureQueriesContext(connection) as queries:
            text_of(client, name, depot)
        counts.append(len(queries))
    assert counts[0] == counts[1]
