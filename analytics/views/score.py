"""Keeping score: how preventive work, repairs and readings went, by month."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from analytics.forms.score import ScoreForm
from analytics.reports.basis import basis_at
from analytics.reports.scope import depot_ids_of
from analytics.reports.score_page import ScoreChoice, score_page
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role


@open_to(Role.PLANNER)
def score(request: SignedInRequest) -> HttpResponse:
    """Every measure with its definition, n and trend; by depot and door model, by nobody."""
    form = ScoreForm(request.GET, user=request.user)
    in_sight = depot_ids_of(request.user)
    basis = basis_at(in_sight, now=timezone.now())
    choice = ScoreChoice(
        depot_ids=form.depot_ids(in_sight),
        door_model_id=form.model_id(),
        early_counts=form.early_counts(),
        rate_per_hour=form.rate_per_hour(),
        by_model=form.by_model(),
    )
    context = {
        "form": form,
        "basis": basis,
        "page": score_page(basis, choice),
        "ignored": form.ignored(),
        "clear_url": "" if form.is_empty else reverse("score"),
        "may_recompute": True,
    }
    return render(request, "analytics/score.html", context)
