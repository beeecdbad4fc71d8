"""The page with everything that the shell has no room for."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.functional import Promise

from fleetdoors.access import SignedInRequest
from fleetdoors.access import open_to as page_open_to
from fleetdoors.models import Depot
from fleetdoors.navigation import FURTHER, OF_A_DEPOT, open_to

MOST_DEPOTS = 60


@dataclass(frozen=True)
class Link:
    """A page by its words."""

    label: str | Promise
    url: str


@page_open_to()
def further(request: SignedInRequest) -> HttpResponse:
    """Further pages by what they are about, and the pages of each depot in sight."""
    groups = [
        (title, [Link(each.label, reverse(each.url_name)) for each in open_to(request.user, rows)])
        for title, rows in FURTHER
    ]
    depots = Depot.objects.visible_to(request.user)
    of_each = open_to(request.user, OF_A_DEPOT)
    context = {
        "groups": [group for group in groups if group[1]],
        "depots": [
            (
                depot,
                [Link(each.label, reverse(each.url_name, args=[depot.code])) for each in of_each],
            )
            for depot in depots[:MOST_DEPOTS]
        ],
    }
    return render(request, "fleetdoors/further.html", context)
