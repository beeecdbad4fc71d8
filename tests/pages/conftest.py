"""What tests of pages share: a clock that stands still, and a signed-in browser for each role."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import pytest
from django.test import Client

from fleetdoors.models import Depot, Role
from tests.factories import NOW, make_user

SignIn = Callable[..., Client]


@pytest.fixture
def stopped_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """Views and commands read the same moment, whenever the tests run."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


@pytest.fixture
def sign_in(db: None) -> SignIn:
    """A browser in which somebody with a role, and perhaps depots, is signed in."""

    def signed_in(role: Role = Role.PLANNER, depots: Iterable[Depot] = ()) -> Client:
        client = Client()
        client.force_login(make_user(role=role, depots=depots))
        return client

    return signed_in
