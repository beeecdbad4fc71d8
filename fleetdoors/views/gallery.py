"""Every component in every state, to look at."""

from django.http import HttpResponse
from django.shortcuts import render

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.gallery import gallery_context
from fleetdoors.models import Role


@open_to(Role.ADMINISTRATOR)
def gallery(request: SignedInRequest) -> HttpResponse:
    """The gallery with invented values."""
    return render(request, "fleetdoors/gallery.html", gallery_context())
