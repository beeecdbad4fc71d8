"""The demo: an invented fleet, moved to the present, loaded and computed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from django.conf import settings
from django.utils.translation import gettext as _

from analytics.checking import check_forecasts
from analytics.demo_company import keep_company
from analytics.demo_stock import stock_the_demo
from analytics.demo_visits import plan_demo_visits
from analytics.models import Computation, ForecastCheck
from analytics.recompute import recompute_fleet
from analytics.synthetic.measurements import STORIES, invent_inspections
from analytics.synthetic.shift import days_to_recent, latest_day, shift_folder
from fleetdoors.demo_people import (
    DemoPerson,
    demo_password,
    is_demo_folder,
    let_demo_people_in,
)
from fleetdoors.models import Depot, DoorUnit, Fitment, User
from inspections.models import Visit
from inspections.services.fleet_folder.importing import import_fleet
from inspections.services.inspecting import figures_of, record_inspection
from inspections.services.past_inspections import PastInspection, record_past_inspections

DEMO_FLEET = settings.ROOT / "fixtures" / "demo.zip"
SHORT_WINTER = ("01-08", "02-20")
MEASURED_DOORS = 40
MEASURED_FROM, MEASURED_UNTIL = timedelta(days=700), timedelta(days=5)


class OtherFleetError(Exception):
    """The database holds a fleet, or people, that are not the demo's."""


@dataclass(frozen=True)
class Demo:
    """What stands once the demo is prepared."""

    people: list[DemoPerson]
    doors: int
    was_loaded: bool


def prepare_demo(*, now: datetime) -> Demo:
    """Load the demo fleet into an empty database, and have figures of today.

    A second start finds both and does nothing. Raises OtherFleetError where the database holds
    another fleet or other people, and leaves it alone.
    """
    has_fleet = DoorUnit.objects.exists()
    if (has_fleet or User.objects.exists()) and not is_demo_folder(settings.DATA_DIR):
        raise OtherFleetError(
            _(
                "This database is in use: it holds people or doors of its own, and nothing was "
                "changed. To serve it, run: gunicorn -c python:fleetdoors.config.gunicorn. For a "
                "demo, name another data folder: FLEETDOORS_DATA_DIR=.demo"
            )
        )
    # The password marks the data folder as the demo's, so that a start cut short can go on.
    demo_password(settings.DATA_DIR)
    if not has_fleet:
        _load(now)
        measure_doors(now=now)
        stock_the_demo(now=now)
        let_demo_people_in(settings.DATA_DIR)
        keep_company(now=now)
    _bring_figures_up(now, is_new=not has_fleet)
    # What the demo's people did has a name under it; what is planned for the day has none.
    if not Visit.objects.filter(entered_by__isnull=True).exists():
        plan_demo_visits(now=now)
    people = let_demo_people_in(settings.DATA_DIR)
    return Demo(people, DoorUnit.objects.count(), was_loaded=not has_fleet)


def _bring_figures_up(now: datetime, *, is_new: bool) -> None:
    """Check past forecasts once, and compute what was not computed today."""
    was_checked = ForecastCheck.objects.finished().exists()
    if not was_checked:
        check_forecasts(as_of=now, started_at=now)
    current = Computation.objects.current().first()
    if is_new or not was_checked or current is None or current.as_of.date() < now.date():
        # The import asked for figures of a record that was not yet complete, by the clock and so
        # later than `now`; of two runs the one that began later is shown.
        begun = now if current is None else max(now, current.started_at) + timedelta(seconds=1)
        recompute_fleet(as_of=begun, started_at=begun)


def _load(now: datetime) -> None:
    """Import the demo fleet with its dates moved by whole weeks, so that it ends now."""
    with TemporaryDirectory() as name:
        folder = Path(name) / "demo"
        shift_folder(DEMO_FLEET, folder, days_to_recent(latest_day(DEMO_FLEET), now.date()))
        outcome = import_fleet(folder, now=now)
    if outcome.refused:
        first = next(iter(outcome.problems))
        raise ValueError(f"The demo fleet does not import: {first}")
    # The made shop keeps no winter pace: a short winter is a dip in its score, a long one a ruin.
    salt_from, salt_until = SHORT_WINTER
    Depot.objects.filter(setting__contains="salt").update(
        salt_from=salt_from, salt_until=salt_until
    )


def measure_doors(*, now: datetime) -> None:
    """Record invented measurements of some doors, through what records real ones.

    The last inspection of the doors with a story opens what a value past its limit asks for.
    """
    first_at, last_at = now - MEASURED_FROM, now - MEASURED_UNTIL
    # Doors that kept their cable, so that its resistance has one story to tell.
    changed = Fitment.objects.filter(
        component__code="coil_cable", fitted_on__gt=first_at.date()
    ).values("door_id")
    doors = list(
        DoorUnit.objects.in_service(as_of=now.date())
        .filter(record_from__lte=first_at.date())
        .exclude(pk__in=changed)
        .select_related("door_model")
        .order_by("serial")[:MEASURED_DOORS]
    )
    invented = invent_inspections(
        [figures_of(door) for door in doors], first_at=first_at, last_at=last_at
    )
    past = [
        PastInspection(door, each.facts, each.values, entered_at=each.facts.begun_at)
        for row, (door, rounds) in enumerate(zip(doors, invented, strict=True))
        for each in (rounds[:-1] if row < len(STORIES) else rounds)
    ]
    record_past_inspections(inspections=past)
    for door, rounds in zip(doors, invented[: len(STORIES)], strict=False):
        last = rounds[-1]
        record_inspection(
            door=door, facts=last.facts, values=last.values, entered_at=last.facts.begun_at
        )
