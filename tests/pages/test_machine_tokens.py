"""Tokens of other systems: shown once, kept as a digest, taken back."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from fleetdoors.models import MachineToken, Role
from fleetdoors.services.machine_tokens import TokenRefusedError, issue_token, token_shown
from tests.factories import NOW, make_depot
from tests.machine_factories import make_token
from tests.pages.conftest import SignIn

pytestmark = pytest.mark.django_db
OK, MOVED, FORBIDDEN = 200, 302, 403


def test_an_administrator_issues_a_token_and_sees_its_secret_once(sign_in: SignIn) -> None:
    depot = make_depot(code="NORTH")
    client = sign_in(Role.ADMINISTRATOR)
    given = {"name": "Telematics", "may_post_readings": "on", "depots": [depot.pk]}
    shown = client.post(reverse("machine-tokens"), given).content.decode()
    secret = re.search(r"fld_[\w-]{43}", shown)
    assert secret is not None
    token = token_shown(secret.group())
    assert token is not None
    assert (token.may_post_readings, token.may_read) == (True, False)
    assert list(token.depots.all()) == [depot]
    again = client.get(reverse("machine-tokens")).content.decode()
    assert secret.group() not in again
    assert token.digest not in again
    assert token.begins_with in again


def test_a_token_that_may_do_nothing_is_refused_with_what_was_typed(sign_in: SignIn) -> None:
    answer = sign_in(Role.ADMINISTRATOR).post(reverse("machine-tokens"), {"name": "Telematics"})
    assert "tick what it may do" in answer.content.decode()
    assert 'value="Telematics"' in answer.content.decode()
    assert not MachineToken.objects.exists()


def test_a_token_without_a_name_is_refused() -> None:
    with pytest.raises(TokenRefusedError, match="names the system"):
        issue_token(
            name=" ",
            may_read=True,
            may_post_readings=False,
            depots=(),
            issued_by=None,
            issued_at=NOW,
        )


def test_a_token_taken_back_opens_nothing(sign_in: SignIn) -> None:
    issued = make_token()
    client = sign_in(Role.ADMINISTRATOR)
    assert token_shown(issued.secret) == issued.token
    answer = client.post(reverse("machine-token-revoke", args=[issued.token.pk]))
    assert answer.status_code == MOVED
    assert token_shown(issued.secret) is None
    assert "taken back" in client.get(reverse("machine-tokens")).content.decode()


@pytest.mark.parametrize("role", [Role.PLANNER, Role.TECHNICIAN, Role.BUYER])
def test_tokens_are_the_administrators(sign_in: SignIn, role: Role) -> None:
    issued = make_token()
    client = sign_in(role)
    assert client.get(reverse("machine-tokens")).status_code == FORBIDDEN
    back = client.post(reverse("machine-token-revoke", args=[issued.token.pk]))
    assert back.status_code == FORBIDDEN
    assert token_shown(issued.secret) == issued.token


def test_the_page_for_other_systems_tells_every_operation(sign_in: SignIn) -> None:
    shown = sign_in(Role.BUYER).get(reverse("api-page")).content.decode()
    for operation in ("POST /api/readings", "GET /api/doors/{door}", "GET /api/figures/{figure}"):
        assert operation in shown
    assert "readings[].counter_value" in shown
    assert "integer, 1 to 500" in shown


def test_an_administrator_of_some_depots_issues_and_takes_back_nothing(sign_in: SignIn) -> None:
    issued = make_token()
    client = sign_in(Role.ADMINISTRATOR, [make_depot()])
    assert client.get(reverse("machine-tokens")).status_code == FORBIDDEN
    back = client.post(reverse("machine-token-revoke", args=[issued.token.pk]))
    assert back.status_code == FORBIDDEN
    assert token_shown(issued.secret) == issued.token
