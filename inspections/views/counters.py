"""The page on which the exchange of a counter is recorded."""

from __future__ import annotations

from datetime import date

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from fleetdoors.services.counter_exchange import CounterExchangeRefusedError, exchange_counter
from inspections.forms.counter import CounterExchangeForm
from inspections.models import CounterReading
from inspections.views.place import Place, at_door


@open_to(Role.TECHNICIAN, Role.PLANNER)
@at_door
def counter_exchange(request: SignedInRequest, place: Place) -> HttpResponse:
    """Record that a door got another counter."""
    form = CounterExchangeForm(request.POST or None, initial={"exchanged_on": timezone.localdate()})
    if form.is_valid() and _exchange(place, form):
        messages.success(request, _("Counter exchanged on door %(door)s.") % {"door": place.door})
        return redirect(place.url)
    context = {
        "form": form,
        "place": place,
        "present": place.door.counters.filter(removed_on__isnull=True).first(),
    }
    return render(request, "inspections/counter_exchange.html", context)


def _exchange(place: Place, form: CounterExchangeForm) -> bool:
    """Whether the exchange is on record; if not, the form says why."""
    exchanged_on = form.cleaned_data["exchanged_on"]
    if exchanged_on > timezone.localdate():
        form.add_error("exchanged_on", _("An exchange is not dated ahead."))
        return False
    try:
        exchange_counter(
            door=place.door,
            exchanged_on=exchanged_on,
            old=form.old(record_began_on=_record_began_on(place, exchanged_on)),
            new=form.new(),
            entered_at=timezone.now(),
        )
    except CounterExchangeRefusedError as error:
        form.add_error(None, str(error))
        return False
    return True


def _record_began_on(place: Place, exchanged_on: date) -> date:
    """When the record began, or else the day of the first reading, or else the exchange itself."""
    if place.door.record_from:
        return place.door.record_from
    first = CounterReading.objects.in_force().filter(door=place.door).order_by("read_at").first()
    return timezone.localdate(first.read_at) if first else exchanged_on
