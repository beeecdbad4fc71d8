"""Every page in inches: no millimetre, newton or degree Celsius is left in what it says."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from fleetdoors.models import DoorUnit
from fleetdoors.units_in_use import COOKIE
from inspections.models import Fault, FollowUp, RoadHold
from tests.access_factories import make_depot_world, make_shared_objects
from tests.factories import NOW, make_fault
from tests.pages.everybody import clients_of_everybody, words_of
from tests.pages.planner_rows import make_run
from tests.sheet.pages import samples

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
METRIC = re.compile(r"\d\s?(?:mm|N|°C)\b(?!·)[^.]{0,20}")
KEPT = "Greatest pull along the travel: 180 N"


@pytest.fixture
def clients() -> dict[str | None, Client]:
    found = clients_of_everybody()
    for client in found.values():
        client.cookies[COOKIE] = "inch"
    return found


def test_no_page_in_inches_says_a_metric_measure(clients: dict[str | None, Client]) -> None:
    make_depot_world(mark="LIMA", run=make_run())
    make_shared_objects()
    door = DoorUnit.objects.get(serial="LIMADOOR")
    make_fault(door=door, found_at=NOW)
    Fault.objects.update(note=KEPT)
    FollowUp.objects.update(because=KEPT)
    RoadHold.objects.update(detail=KEPT)
    left, turned = [], set()
    for sample in samples()[0]:
        answer = clients[sample.person].get(sample.url)
        if answer.status_code != 200 or not answer["Content-Type"].startswith("text/html"):
            continue
        text = words_of(answer.content.decode())
        left += [(sample.name, found.group()) for found in METRIC.finditer(text)]
        if "40.5 lbf" in text:
            turned.add(sample.name)
    assert left == []
    assert {"truck-record", "fault-detail", "hold-lift", "follow-up-drop"} <= turned
