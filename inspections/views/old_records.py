"""The page of doors that left: until when their records are kept, and letting them go."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from fleetdoors.retention import RuleSet
from inspections.forms.letting_go import LettingGoForm
from inspections.old_records import last_gone, lines_of, periods
from inspections.services.retention.departed import departed_doors
from inspections.services.retention.letting_go import KeptError, let_go

LINES_A_PAGE = 50


@open_to(Role.ADMINISTRATOR)
@never_cache
def old_records(request: SignedInRequest) -> HttpResponse:
    """Doors that left, those whose records may go first; and one door's records let go."""
    if not request.user.sees_every_depot():
        raise PermissionDenied(_("This list holds every depot; you look after some of them."))
    form = LettingGoForm(request.POST or None)
    if request.method == "POST" and form.is_valid() and _let_go(request, form):
        return redirect("old-records")
    rules = RuleSet(settings.RETENTION_RULES)
    lines = lines_of(departed_doors(rules), timezone.now())
    context = {
        "form": form,
        "page": Paginator(lines, LINES_A_PAGE).get_page(request.GET.get("page")),
        "may_go": sum(line.may_go for line in lines),
        "rules": rules,
        "periods": periods(rules),
        "gone": last_gone(),
    }
    return render(request, "inspections/old_records.html", context)


def _let_go(request: SignedInRequest, form: LettingGoForm) -> bool:
    """Let the records of the typed door go; where they are kept, the form says why."""
    door, rules = form.cleaned_data["door"], RuleSet(settings.RETENTION_RULES)
    try:
        gone = let_go(door=door, rule_set=rules, at=timezone.now(), by=request.user)
    except KeptError as why:
        form.add_error("door", str(why))
        return False
    said = _("Door %(door)s: %(count)s rows were let go.")
    messages.success(request, said % {"door": door.serial, "count": sum(gone.rows.values())})
    return True
