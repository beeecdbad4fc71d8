"""Without a signal, over TLS, under an address that is not this machine's own."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from pytest_django.fixtures import Settings

from fleetdoors.models import DoorUnit
from inspections.models import DeviceEntry
from tests.browser.own_phone import OwnPhone, started_phone
from tests.browser.test_offline import (
    enter_reading,
    kept_on_phone,
    open_round,
    values_on_record,
    wait_for_waiting,
)
from tests.factories import make_door, make_truck, make_user
from tests.services.tls_front import NAME, fingerprint, made_certificate, tls_in_front_of


@pytest.fixture
def phone(
    live_server: object,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    settings: Settings,
    recompute_requests: object,
) -> Iterator[OwnPhone]:
    """A phone that was told once to trust the yard's certificate, and finds the yard's name."""
    monkeypatch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
    settings.ALLOWED_HOSTS = [NAME]
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    certificate = made_certificate(tmp_path)
    trust = (
        f"--ignore-certificate-errors-spki-list={fingerprint(certificate)}",
        f"--host-resolver-rules=MAP {NAME} 127.0.0.1",
    )
    with (
        tls_in_front_of(live_server.url, certificate) as site,  # type: ignore[attr-defined]
        started_phone(tmp_path / "profile", site, flags=trust) as started,
    ):
        yield started


def test_readings_kept_without_a_signal_arrive_over_tls(phone: OwnPhone) -> None:
    kim = make_user(username="kim")
    doors: list[DoorUnit] = [
        make_door(serial="D-1", truck=make_truck(fleet_number="T-1")),
    ]
    page = open_round(phone, kim)
    assert page.url.startswith(f"https://{NAME}:")
    assert page.evaluate("window.isSecureContext")
    phone.lose_signal()
    for value in (1000, 1010):
        enter_reading(page, doors[0], value)
        kept_on_phone(page, value)
    wait_for_waiting(page, 2)
    assert not DeviceEntry.objects.exists()
    phone.find_signal()
    page.goto(f"{phone.site}/round/waiting/")
    wait_for_waiting(page, 0)
    assert values_on_record() == [1000, 1010]
