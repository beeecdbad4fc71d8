"""The page of doors that left: what it lists, refuses and lets go."""

from __future__ import annotations

from datetime import date

import pytest

from fleetdoors.models import Role
from inspections.models import LettingGo
from tests import factories as make
from tests.inspections.test_letting_go import at, leave
from tests.pages.conftest import SignIn

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.usefixtures("stopped_clock", "recompute_requests"),
]
URL = "/record/old/"


def test_the_page_lists_them_and_lets_go_of_the_one_that_is_typed(sign_in: SignIn) -> None:
    old, young = leave(make.make_door(), date(2019, 1, 31)), leave(make.make_door())
    make.make_fault(door=old, found_at=at(date(2018, 1, 1)))
    make.make_fault(door=young, found_at=at(date(2026, 1, 1)))
    client = sign_in(Role.ADMINISTRATOR)
    page = client.get(URL).content.decode()
    assert "The records of 1 door may go." in page
    assert "Mon 31 Jan 2028" in page
    refused = client.post(URL, {"door": young.serial}).content.decode()
    assert "kept until 2028-01-31" in refused
    assert "Nothing was deleted." in refused
    assert "There is no door with this number." in client.post(URL, {"door": "?"}).content.decode()
    assert not LettingGo.objects.exists()
    done = client.post(URL, {"door": old.serial}, follow=True).content.decode()
    assert f"Door {old.serial}: 1 rows were let go." in done
    gone = LettingGo.objects.get()
    assert (gone.door, gone.rule_set) == (old, "none")
    assert gone.gone_by is not None
    assert "records let go" in client.get("/record/changes/").content.decode()


def test_the_page_says_when_there_is_nothing(sign_in: SignIn) -> None:
    page = sign_in(Role.ADMINISTRATOR).get(URL).content.decode()
    assert "No door has left with records" in page
    assert "24 months after leaving" in page
