"""The page that says who changed what."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from inspections.forms.record_changes import RecordChangesForm
from inspections.record_changes import changes, shown

LINES_A_PAGE = 50


@open_to(Role.ADMINISTRATOR)
@require_GET
@never_cache
def record_changes(request: SignedInRequest) -> HttpResponse:
    """Every change, the latest first; for who sees every depot."""
    if not request.user.sees_every_depot():
        raise PermissionDenied(_("This list holds every depot; you look after some of them."))
    form = RecordChangesForm(request.GET)
    choice = form.choice()
    chosen = changes(person=choice.person, since=choice.since, until=choice.until)
    page = Paginator(chosen, LINES_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "form": form,
        "page": page,
        "changes": shown(page.object_list),
        "is_chosen": bool(choice.person or choice.since),
    }
    return render(request, "inspections/record_changes.html", context)
