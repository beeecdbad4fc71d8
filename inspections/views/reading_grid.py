"""Many readings from paper, keyed in one go; each row stands or falls alone."""

from __future__ import annotations

from datetime import datetime

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.translation import ngettext

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Depot, Role
from fleetdoors.templatetags.units import number
from inspections.forms.reading_grid import ROWS, GridForm, grid_rows
from inspections.services.reading_grid import Keyed, KeyedRow, key_readings


@open_to(Role.TECHNICIAN, Role.PLANNER)
def reading_grid(request: SignedInRequest, code: str) -> HttpResponse:
    """Rows of truck or door, moment and counter; what is refused stays to be put right."""
    depot = get_object_or_404(Depot.objects.visible_to(request.user), code=code)
    now = timezone.now()
    with timezone.override(depot.zone):
        form = GridForm(request.POST or None, today=timezone.localdate(now))
        rows = grid_rows(request.POST)
        kept: list[KeyedRow] = []
        if request.method == "POST" and form.is_valid():
            found = _key(request, depot, form, rows, now)
            kept, rows = found.kept, found.refused
        context = {
            "depot": depot,
            "form": form,
            "rows": rows,
            "free_rows": range(len(rows) + 1, max(ROWS, len(rows) + 5) + 1),
            "kept": kept,
        }
        return render(request, "inspections/reading_grid.html", context)


def _key(
    request: SignedInRequest, depot: Depot, form: GridForm, rows: list[KeyedRow], now: datetime
) -> Keyed:
    """Keep what can be kept, and say how many were not."""
    found = key_readings(
        depot=depot,
        rows=rows,
        read_at=form.moment(),
        read_by=form.cleaned_data["read_by"],
        entered_at=now,
        entered_by=request.user,
    )
    _say(request, len(found.kept), len(found.refused))
    return found


def _say(request: SignedInRequest, kept: int, refused: int) -> None:
    if kept:
        said = ngettext("%(n)s reading kept.", "%(n)s readings kept.", kept)
        messages.success(request, said % {"n": number(kept)})
    if refused:
        said = ngettext(
            "%(n)s row was not kept: see what is wrong with it.",
            "%(n)s rows were not kept: see what is wrong with each.",
            refused,
        )
        messages.warning(request, said % {"n": number(refused)})
