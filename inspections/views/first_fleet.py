"""The page for a first depot with its trucks; what is typed is checked like any fleet folder."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from fleetdoors.access import SignedInRequest
from inspections.forms.first_fleet import FirstFleetForm
from inspections.services.first_fleet import as_folder
from inspections.services.fleet_folder.uploads import keep_upload
from inspections.views.fleet_import import for_the_whole_fleet


@for_the_whole_fleet
def first_fleet(request: SignedInRequest) -> HttpResponse:
    """Take the answers down, and show what they would write."""
    form = FirstFleetForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        now, person = timezone.now(), request.user
        files = as_folder(form.fleet(), now=now, read_by=person.get_full_name() or person.username)
        return redirect(
            "fleet-import-preview", keep_upload(files=files, owner_id=person.pk, now=now)
        )
    return render(request, "inspections/first_fleet.html", {"form": form})
