"""The page that tells other systems' makers what they can ask and post."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.api.described import operations
from fleetdoors.config.api import api
from fleetdoors.models import Role
from fleetdoors.public_address import public_url


@open_to()
def api_page(request: SignedInRequest) -> HttpResponse:
    """Each operation with what it takes and answers, from the interface's own description."""
    context = {
        "operations": operations(api.get_openapi_schema()),
        "may_issue": request.user.has_any_role(Role.ADMINISTRATOR),
        "address": public_url("/api/readings", request),
    }
    return render(request, "fleetdoors/api_page.html", context)
