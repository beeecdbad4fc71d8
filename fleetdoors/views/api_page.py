"""The page that tells other systems' makers what they can ask and post."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.api.described import operations
from fleetdoors.config.api import api
from fleetdoors.models import Role
from fleetdoors.public_address import public_url

SAMPLE = """curl %s \\
  -H "Authorization: Bearer fld_…" -H "Content-Type: application/json" \\
  -d '{"readings": [{"client_id": "a-1", "door": "RD0017",
       "read_at": "2026-03-01T07:40", "counter_value": 48210}]}'"""


@open_to()
def api_page(request: SignedInRequest) -> HttpResponse:
    """Each operation with what it takes and answers, from the interface's own description."""
    context = {
        "operations": operations(api.get_openapi_schema()),
        "may_issue": request.user.has_any_role(Role.ADMINISTRATOR),
        "sample": SAMPLE % public_url("/api/readings", request),
    }
    return render(request, "fleetdoors/api_page.html", context)
