"""What a saved reading comes to: a fragment for the page that says it was kept."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from analytics.reports.basis import basis_in
from analytics.reports.reading_page import reading_answer
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from inspections.models import CounterReading
from inspections.views.place import Place, at_row

# Figures asked for through a queue take a moment; after so many looks the page stops asking.
MOST_LOOKS = 15


@open_to()
@at_row(CounterReading)
def answer_to_reading(
    request: SignedInRequest, reading: CounterReading, place: Place
) -> HttpResponse:
    """The range expected, lifetime cycles and due tasks, or the question about the reading."""
    now = timezone.now()
    basis = basis_in(place.zone, now=now)
    look = _look(request)
    answer = reading_answer(reading, place, basis, now=now)
    context = {
        "reading": reading,
        "place": place,
        "basis": basis,
        "answer": answer,
        "next_look": look + 1 if answer.is_waiting and look < MOST_LOOKS else None,
        "may_write": request.user.has_any_role(Role.TECHNICIAN, Role.PLANNER),
    }
    return render(request, "analytics/_reading_answer.html", context)


def _look(request: SignedInRequest) -> int:
    asked = request.GET.get("look", "")
    return int(asked) if asked.isascii() and asked.isdecimal() and len(asked) < 4 else 0
