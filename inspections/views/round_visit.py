"""A visit that the phone carries by itself, and what every door's pages share there."""

from __future__ import annotations

from datetime import timedelta

from django import forms
from django.http import HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.gzip import gzip_page

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Component, Role
from inspections.forms.closing import JobForm, SignOffForm
from inspections.forms.visit import (
    FinalCheckForm,
    HandoverForm,
    NotPresentedForm,
    VisitPlanForm,
)
from inspections.models import JobKind, RoadHold, Tick, VisitJob
from inspections.models.safety_tick import NEVER_SKIPPED
from inspections.services.shop_on_phone import shop_facts
from inspections.services.visit_on_phone import offered_on, visit_at, visit_facts_for_phone
from inspections.views.place import Place, at_door


@open_to(Role.TECHNICIAN, Role.PLANNER)
@at_door
def round_visit(request: SignedInRequest, place: Place) -> HttpResponse:
    """The visit at this door from its beginning to the sign-off, with or without a signal."""
    today = timezone.localdate()
    visit = visit_at(place.door)
    offered = offered_on(place.door)
    holds = list(RoadHold.objects.standing().filter(door=place.door))
    facts = visit_facts_for_phone(place.door, visit, offered, len(holds)) | {
        "shop": reverse("round-shop"),
        "today": today.isoformat(),
    }
    context = {
        "place": place,
        "visit": visit,
        "facts": facts,
        "holds": holds,
        "plan": VisitPlanForm(None, jobs=offered, depot=place.depot, initial={"planned_on": today}),
        "absent": NotPresentedForm(None, initial={"again_on": today + timedelta(days=1)}),
        "ticks": [(code, label, code not in NEVER_SKIPPED) for code, label in Tick.choices],
        "check": _named("check", FinalCheckForm(None)),
        "hand_over": _named("hand-over", HandoverForm(None, holder=None, depot=place.depot)),
        "sign_off": SignOffForm(None, initial={"signed_by": str(request.user)}),
        "job_forms": _blank_jobs(),
        "positions": place.door.fitments.in_place().exclude(position=""),
    }
    return render(request, "inspections/round_visit.html", context)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@gzip_page
def round_shop(request: SignedInRequest) -> JsonResponse:
    """Tasks, parts, codes, people and cautions, once for all doors on the phone."""
    return JsonResponse(shop_facts(timezone.localdate(), reader=request.user))


def _named(name: str, form: forms.Form) -> forms.Form:
    """The form with ids of its own: several stand on this page."""
    form.auto_id = f"{name}_%s"
    return form


def _blank_jobs() -> list[tuple[str, JobForm]]:
    """A form for a job and one for a fault; the phone makes a copy for each of its jobs."""
    components = {each.code: each for each in Component.objects.order_by("name")}
    return [
        (
            kind,
            JobForm(None, job=VisitJob(kind=kind), parts=[], components=components, proposed=None),
        )
        for kind in (JobKind.TASK, JobKind.FAULT)
    ]
