"""Who changed what: every kind of change stands in the one listing, by person and day."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.contrib.admin.models import CHANGE, LogEntry
from django.contrib.contenttypes.models import ContentType
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleetdoors.models import DoorUnit, Role, User
from inspections.record_changes import KINDS, changes, shown
from inspections.services.findings import Correction
from inspections.services.readings import correct_reading
from inspections.services.taking_back import take_back_use
from tests.announced_factories import make_other_use
from tests.catalogue_factories import make_change
from tests.factories import (
    NOW,
    make_depot,
    make_door,
    make_fault,
    make_part,
    make_part_used,
    make_reading,
    make_user,
)
from tests.machine_factories import make_token
from tests.pages.conftest import SignIn
from tests.schedule_factories import make_acceptance
from tests.stock_factories import make_step
from tests.truck_factories import make_hold, make_letting_go

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.usefixtures("stopped_clock", "recompute_requests"),
]
URL = "/record/changes/"
DAY = timedelta(days=1)


def correct(*, by: User, value: int = 4_870) -> None:
    reading = make_reading(door=make_door(), counter_value=48_700, read_at=NOW - 2 * DAY)
    correct_reading(
        reading=reading,
        counter_value=value,
        read_at=reading.read_at,
        reason="one digit too many",
        entered_at=NOW,
        entered_by=by,
    )


def one_of_each(by: User) -> None:
    correct(by=by)
    make_fault(door=make_door())
    door = make_door()
    LogEntry.objects.create(
        user=by,
        content_type=ContentType.objects.get_for_model(DoorUnit),
        object_id=str(door.pk),
        object_repr=str(door),
        action_flag=CHANGE,
        change_message='[{"changed": {"fields": ["Serial"]}}]',
    )
    used = make_part_used(door=door, part=make_part())
    take_back_use(used=used, correction=Correction("not used", NOW, by))
    make_change()
    make_token().token.revoke(by=by, at=NOW)
    hold = make_hold()
    type(hold).objects.filter(pk=hold.pk).update(
        lifted_at=NOW, lifted_by=by, signed_by="Kim", what_was_done="cable replaced"
    )
    plan = make_acceptance(person=by)
    type(plan).objects.filter(pk=plan.pk).update(undone_at=NOW, undone_by=by)
    make_step(note="with the supplier", entered_by=by)
    make_letting_go(by=by)
    change = make_other_use(by=by)
    type(change).objects.filter(pk=change.pk).update(
        cancelled_at=NOW, cancelled_by=by, cancelled_because="contract lost"
    )


def listed(**choice: Any) -> list[str]:
    return [line.words.why for line in shown(changes(**choice))]


def test_every_decision_stands_in_the_listing(sign_in: SignIn) -> None:
    one_of_each(make_user(username="kim"))
    found = {name for name, *_rest in changes()}
    decisions = {name for name in KINDS if not name.startswith("correction")}
    assert found == decisions | {"correction of CounterReading"}
    text = sign_in(Role.ADMINISTRATOR).get(URL).content.decode()
    for words in ("one digit too many", "48700", "4870", "cable replaced", "with the supplier"):
        assert words in text
    assert "Changed Serial" in text


def test_a_record_that_corrects_nothing_is_no_change() -> None:
    make_reading(door=make_door(), counter_value=100)
    assert list(changes()) == []


def test_the_latest_comes_first() -> None:
    correct(by=make_user())
    make_change()
    moments = [at for _kind, _key, at, _by in changes()]
    assert moments == sorted(moments, reverse=True)


def test_a_person_and_a_day_choose(sign_in: SignIn) -> None:
    kim, robin = make_user(username="kim"), make_user(username="robin")
    correct(by=kim)
    make_step(note="robin's step", entered_by=robin)
    assert listed(person=kim) == ["one digit too many"]
    assert listed(since=NOW + DAY) == []
    client = sign_in(Role.ADMINISTRATOR)
    text = client.get(URL, {"person": robin.pk, "day": NOW.date().isoformat()}).content.decode()
    assert "robin&#x27;s step" in text
    assert "one digit too many" not in text
    nobody = client.get(URL, {"person": robin.pk, "day": "2026-01-01"}).content.decode()
    assert "Choose another person or day" in nobody
    assert client.get(URL, {"person": "x", "day": "31", "page": "y"}).status_code == 200


def test_the_number_of_queries_stays(sign_in: SignIn) -> None:
    client, kim = sign_in(Role.ADMINISTRATOR), make_user()
    counted = []
    for _round in range(2):
        one_of_each(kim)
        with CaptureQueriesContext(connection) as queries:
            assert client.get(URL).status_code == 200
        counted.append(len(queries))
        one_of_each(kim)
    assert counted[0] == counted[1]


def test_long_listings_come_in_pages(sign_in: SignIn) -> None:
    kim = make_user()
    for _number in range(51):
        make_step(entered_by=kim)
    first = sign_in(Role.ADMINISTRATOR).get(URL)
    assert len(first.context["changes"]) == 50
    assert "?page=2" in first.content.decode()


def test_it_is_for_administrators_of_every_depot(sign_in: SignIn) -> None:
    url = reverse("record-changes")
    assert "Nothing was changed yet" in sign_in(Role.ADMINISTRATOR).get(url).content.decode()
    assert sign_in(Role.PLANNER).get(url).status_code == 403
    assert sign_in(Role.ADMINISTRATOR, depots=[make_depot()]).get(url).status_code == 403
