"""The morning mail: off until wanted, only what is new, sent once."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse

from analytics.digests import NoMailServerError, send_digests
from fleetdoors.models import Role
from inspections.models import DigestChoice, HoldReason
from inspections.services.holds import place_hold
from tests.factories import NOW, make_depot, make_door, make_part, make_truck, make_user
from tests.pages.conftest import SignIn
from tests.pages.test_parts import make_outlook

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
ADDRESS = "https://doors.example/"


@pytest.fixture
def with_server(settings: Any) -> None:
    settings.MAIL_SERVER = "smtp://mail.example:25"


def held(fleet_number: str = "T17", **facts: Any) -> None:
    place_hold(
        door=make_door(truck=make_truck(fleet_number=fleet_number, **facts)),
        because=HoldReason.DROPS,
        detail="",
        placed_at=NOW - timedelta(hours=2),
        entered_at=NOW,
    )


def wanted_by(**facts: Any) -> DigestChoice:
    person = make_user(**facts)
    person.email = "planner@fleet.example"
    person.save()
    return DigestChoice.objects.create(
        person=person, is_on=True, told_until=NOW - timedelta(days=1)
    )


def test_nobody_gets_it_who_did_not_ask(with_server: None, mailoutbox: list[Any]) -> None:
    held()
    person = make_user(role=Role.PLANNER)
    person.email = "planner@fleet.example"
    person.save()
    assert send_digests(now=NOW, address=ADDRESS) == 0
    assert mailoutbox == []


def test_it_says_what_is_new_and_says_it_once(with_server: None, mailoutbox: list[Any]) -> None:
    held()
    wanted_by(role=Role.PLANNER)
    assert send_digests(now=NOW, address=ADDRESS) == 1
    assert send_digests(now=NOW, address=ADDRESS) == 0
    (mail,) = mailoutbox
    assert "T17: door drops" in mail.body
    assert ADDRESS in mail.body
    assert mail.to == ["planner@fleet.example"]


def test_a_person_of_one_depot_hears_of_that_depot(
    with_server: None, mailoutbox: list[Any]
) -> None:
    mine = make_depot()
    held("MINE", depot=mine)
    held("OTHERS")
    wanted_by(role=Role.PLANNER, depots=[mine])
    send_digests(now=NOW, address=ADDRESS)
    assert "MINE" in mailoutbox[0].body
    assert "OTHERS" not in mailoutbox[0].body


def test_a_mail_that_fails_is_tried_again(
    with_server: None, mailoutbox: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    held()
    choice = wanted_by(role=Role.PLANNER)
    with monkeypatch.context() as broken:
        broken.setattr(
            "analytics.digests.EmailMessage.send",
            lambda _mail: (_ for _ in ()).throw(ConnectionRefusedError("no server")),
        )
        assert send_digests(now=NOW, address=ADDRESS) == 0
    choice.refresh_from_db()
    assert choice.told_until < NOW
    assert send_digests(now=NOW, address=ADDRESS) == 1


def test_a_buyer_hears_what_runs_out(sign_in: SignIn) -> None:
    make_outlook(
        part=make_part(name="Coil cable"),
        depot=make_depot(),
        order=4,
        run_out_on=(NOW + timedelta(days=5)).date(),
    )
    shown = sign_in(Role.BUYER).get(reverse("digest")).content.decode()
    assert "Coil cable" in shown
    assert "You do not get this mail" in shown


def test_the_switch_turns_it_on_and_off(sign_in: SignIn) -> None:
    client = sign_in(Role.PLANNER)
    client.post(reverse("digest"), {"is_on": "1"})
    assert DigestChoice.objects.get().is_on
    client.post(reverse("digest"), {"is_on": "0"})
    assert not DigestChoice.objects.get().is_on
    assert "Nothing is new" in client.get(reverse("digest")).content.decode()


def test_without_a_server_nothing_is_sent_and_it_is_said(sign_in: SignIn) -> None:
    with pytest.raises(NoMailServerError):
        send_digests(now=NOW, address=ADDRESS)
    with pytest.raises(CommandError, match="MAIL_SERVER is not set"):
        call_command("send_digests")
    assert "No mail server is set up" in sign_in().get(reverse("digest")).content.decode()


def test_the_command_shows_one_without_sending(
    capsys: pytest.CaptureFixture[str], mailoutbox: list[Any]
) -> None:
    held()
    person = make_user(role=Role.PLANNER)
    call_command("send_digests", preview=person.username)
    assert "T17: door drops" in capsys.readouterr().out
    assert mailoutbox == []
    with pytest.raises(CommandError, match="Nobody is called"):
        call_command("send_digests", preview="nobody")
