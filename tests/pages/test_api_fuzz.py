"""Calls made up from the interface's own description: none is answered with a server's error.

The generator is schemathesis, a general-purpose library that knows OpenAPI and nothing of us.
"""

from __future__ import annotations

import json
from typing import Any
from urllib.parse import urlencode

import pytest
import schemathesis
from django.core.cache import cache
from django.test import Client
from hypothesis import given, settings
from schemathesis.core import NotSet

from fleetdoors.config.api import api
from tests.machine_factories import make_token
from tests.pages.running_fleet import compute, make_running_door

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
SCHEMA = schemathesis.openapi.from_dict(api.get_openapi_schema())
SERVER_ERROR = 500


@pytest.fixture
def secret() -> str:
    """A token that may do everything, over one computed door."""
    make_running_door(serial="RD1")
    compute()
    return make_token().secret


def sent(body: Any) -> str | bytes:
    """What a caller sends: nothing, bytes as they are, or JSON."""
    if isinstance(body, NotSet):
        return ""
    return body if isinstance(body, bytes) else json.dumps(body)


@pytest.mark.parametrize(
    ("path", "method"),
    [(path, method) for path, methods in api.get_openapi_schema()["paths"].items()
     for method in methods],
)  # fmt: skip
def test_no_made_up_call_is_answered_with_a_server_error(
    path: str, method: str, secret: str
) -> None:
    statuses = set()

    @settings(max_examples=40, derandomize=True, deadline=None, database=None)
    @given(case=SCHEMA[path][method.upper()].as_strategy())
    def call(case: Any) -> None:
        # So many calls in one minute would all be told to wait.
        cache.clear()
        answer = Client(headers={"Authorization": f"Bearer {secret}"}).generic(
            case.method,
            case.formatted_path,
            data=sent(case.body),
            content_type="application/json",
            query_string=urlencode(case.query or {}, doseq=True),
        )
        statuses.add(answer.status_code)
        assert answer.status_code < SERVER_ERROR, answer.content

    call()
    assert statuses
