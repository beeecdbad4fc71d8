"""Pages of a depot's usual week: its hours, its trucks' exceptions, closed days, trained people."""

from __future__ import annotations

from collections.abc import Iterable

from django import forms as forms_of_django
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import (
    ClosedDay,
    Depot,
    PersonWeekday,
    Role,
    Truck,
    TruckWeekday,
    Weekday,
)
from fleetdoors.services.week_hours import (
    close_depot,
    save_depot_week,
    save_people_week,
    save_truck_week,
)
from inspections.forms.hours import (
    ClosedDayForm,
    HomeDayForm,
    PersonWeekForm,
    SpringWordForm,
    depot_day_forms,
)
from inspections.forms.visit import colleagues_of, people_at
from inspections.models import SpringAuthorisation
from inspections.services.spring_words import grant_spring_word, withdraw_spring_word


def _depot(request: SignedInRequest, code: str) -> Depot:
    return get_object_or_404(Depot.objects.visible_to(request.user), code=code)


@open_to(Role.PLANNER)
def depot_hours(request: SignedInRequest, code: str) -> HttpResponse:
    """A depot's week: bay hours and when its trucks are home; with what else plans rest on."""
    depot = _depot(request, code)
    forms = depot_day_forms(request.POST or None, depot)
    if request.method == "POST" and _all_valid(forms):
        save_depot_week(depot=depot, days=[form.depot_day() for form in forms])
        messages.success(request, _("The week is saved. New plans keep to it."))
        return redirect("depot-hours", depot.code)
    today = timezone.localdate(timezone=depot.zone)
    words = SpringAuthorisation.objects.valid_on(today).select_related("person")
    context = {
        "depot": depot,
        "forms": forms,
        "closed_form": ClosedDayForm(None, initial={"closed_on": today}),
        "closed_days": depot.closed_days.from_day(today),
        "people": _person_forms(depot, None),
        "weekdays": Weekday.labels,
        "words": words,
        "exceptions": _exceptions(depot),
        "trucks": Truck.objects.filter(depot=depot).order_by("fleet_number"),
    }
    return render(request, "inspections/depot_hours.html", context)


@open_to(Role.PLANNER)
@require_POST
def depot_closed_day(request: SignedInRequest, code: str) -> HttpResponse:
    """Shut the bay on a date, or open it again."""
    depot = _depot(request, code)
    if "open" in request.POST:
        ClosedDay.objects.filter(depot=depot, pk=_whole(request.POST["open"])).delete()
        return redirect("depot-hours", depot.code)
    form = ClosedDayForm(request.POST)
    if form.is_valid():
        close_depot(depot=depot, **form.cleaned_data)
        messages.success(request, _("The bay is shut on that day."))
    else:
        messages.error(request, _("Give the date on which the bay is shut."))
    return redirect("depot-hours", depot.code)


@open_to(Role.PLANNER)
@require_POST
def depot_people(request: SignedInRequest, code: str) -> HttpResponse:
    """How long people trained for spring work are here on each day of the week."""
    depot = _depot(request, code)
    forms = _person_forms(depot, request.POST)
    if _all_valid(forms):
        save_people_week(depot=depot, hours={form.person: form.hours() for form in forms})
        messages.success(request, _("Saved. Spring work is planned only while they are here."))
    else:
        messages.error(request, _("Hours a day are numbers from 0 to 24. Nothing was saved."))
    return redirect("depot-hours", depot.code)


@open_to(Role.PLANNER)
def truck_hours(request: SignedInRequest, truck: str) -> HttpResponse:
    """A truck that keeps other hours than its depot's."""
    found = get_object_or_404(Truck.objects.visible_to(request.user), fleet_number=truck)
    rows = {row.weekday: row for row in found.weekdays.all()}
    usual = {row.weekday: row for row in found.depot.weekdays.all()}
    forms = [
        HomeDayForm(request.POST or None, weekday=day, row=rows.get(day) or usual.get(day))
        for day in Weekday.values
    ]
    if request.method == "POST":
        own = "as_depot" not in request.POST
        if not own or _all_valid(forms):
            days = [form.home_time() for form in forms] if own else []
            save_truck_week(truck=found, days=days)
            return redirect("depot-hours", found.depot.code)
    context = {"truck": found, "forms": forms, "has_own": bool(rows)}
    return render(request, "inspections/truck_hours.html", context)


@open_to(Role.PLANNER)
def spring_word_new(request: SignedInRequest) -> HttpResponse:
    """Name a person for spring work."""
    today = timezone.localdate()
    initial = {
        "from_on": today,
        "until_on": today.replace(year=today.year + 1, day=min(today.day, 28)),
        "granted_by": str(request.user),
    }
    form = SpringWordForm(request.POST or None, people=colleagues_of(request.user), initial=initial)
    if form.is_valid():
        grant_spring_word(**form.cleaned_data)
        messages.success(request, _("On record. Plans give them spring work while they are in."))
        return redirect("schedule")
    return render(request, "inspections/spring_word_new.html", {"form": form})


@open_to(Role.PLANNER)
@require_POST
def spring_word_withdraw(request: SignedInRequest, pk: int) -> HttpResponse:
    """Take a person's word for spring work back, from now on."""
    word = get_object_or_404(
        SpringAuthorisation.objects.filter(person__in=colleagues_of(request.user)), pk=pk
    )
    withdraw_spring_word(word=word, withdrawn_at=timezone.now())
    messages.success(
        request, _("From now on no plan gives %(person)s spring work.") % {"person": word.person}
    )
    return redirect("schedule")


def _person_forms(depot: Depot, data: object) -> list[PersonWeekForm]:
    """A week for everybody trained for spring work who may come here; queries thrice."""
    today = timezone.localdate(timezone=depot.zone)
    words = SpringAuthorisation.objects.valid_on(today).values("person")
    here = people_at(depot).filter(pk__in=words)
    hours: dict[int, dict[int, float]] = {}
    for row in PersonWeekday.objects.filter(depot=depot):
        hours.setdefault(row.person_id, {})[row.weekday] = row.hours
    return [PersonWeekForm(data, person=person, hours=hours.get(person.pk, {})) for person in here]


def _exceptions(depot: Depot) -> list[Truck]:
    """Trucks of the depot that keep their own hours."""
    own = TruckWeekday.objects.filter(truck__depot=depot).values("truck")
    return list(Truck.objects.filter(pk__in=own).order_by("fleet_number"))


def _all_valid(forms: Iterable[forms_of_django.Form]) -> bool:
    """Whether every form is valid, each asked so that each shows its errors."""
    return all([form.is_valid() for form in forms])  # noqa: C419


def _whole(text: str) -> int:
    return int(text) if text.isdigit() else 0
