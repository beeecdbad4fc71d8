"""What fails more often than its age says is told wherever a buyer looks, and at one cost."""

from __future__ import annotations

from dataclasses import asdict
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from analytics.kernel.demand_calibration import DemandCalibration
from analytics.models import Computation, ForecastCheck, LifeEvidence, PartOutlook
from analytics.reports.basis import Basis
from analytics.reports.failing_parts import FailingParts, failing_parts
from fleetdoors.models import Component, Part, Role
from tests.factories import NOW, component, make_depot, make_door, make_part
from tests.pages.conftest import SignIn
from tests.pages.test_part_outlook import two_numbers
from tests.pages.test_parts import make_outlook, make_run
from tests.stock_factories import make_price

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
PAGES = ("order-today", "part-list", "today")
HEADING = "Fails more often than its age says"


def found() -> FailingParts:
    return failing_parts(Basis(Computation.objects.current().first(), NOW.date(), NOW.date()))


def keep_evidence(run: Computation, what: Component, *parts: Part, times: float = 2.0) -> None:
    """What a run found of the part numbers of a component: each fails so often."""
    figures = [
        {
            "part": part.pk,
            "lives": 90,
            "failures": 40,
            "times_others": times,
            "times_others_lower": times - 0.5,
            "times_others_upper": times + 0.5,
            "fails_more_often": True,
        }
        for part in parts
    ]
    LifeEvidence.objects.create(generation=run, component=what, figures={"parts": figures})


def keep_factor(code: str, factor: float, *, alert: bool) -> None:
    """What past weeks taught of a component."""
    kept = DemandCalibration(factor, 80.0, 1.0, 0.95, alert, 40)
    ForecastCheck.objects.create(
        as_of=NOW - timedelta(days=1),
        started_at=NOW - timedelta(days=1),
        finished_at=NOW,
        factors={code: asdict(kept)},
    )


def test_a_revision_found_in_the_record_is_named_on_each_page(sign_in: SignIn) -> None:
    old, new = two_numbers(ages=(12_000.0, 4_000.0))
    make_price(part=new)
    PartOutlook.objects.filter(part=new).update(suggested_order=3)
    assert [each.part_id for each in found().found] == [new.pk]
    client = sign_in(Role.BUYER)
    for name in PAGES:
        shown = client.get(reverse(name)).content.decode()
        assert HEADING in shown, name
        assert f"{new.name} CONV-B, revision B</a>: fails " in shown, name
        assert f'href="{reverse("part-detail", args=[new.part_number])}"' in shown, name
        assert f"{old.part_number}</a>: fails" not in shown, name
    # Beside the line that would buy it, too.
    row = client.get(reverse("order-today")).content.decode().partition("<tbody>")[2]
    assert "times as often as its like at the same ages" in row


def test_revisions_that_last_as_long_leave_the_pages_quiet(sign_in: SignIn) -> None:
    two_numbers(ages=(9_000.0, 9_000.0))
    client = sign_in(Role.BUYER)
    for name in PAGES:
        assert HEADING not in client.get(reverse(name)).content.decode(), name


def test_a_kind_of_which_no_number_stands_out_is_told_by_its_name() -> None:
    make_outlook(part=make_part(component=component("motor")), depot=make_depot())
    keep_factor("motor", 1.41, alert=True)
    [each] = found().found
    assert each.words == (
        "failed 1.41 times as often as their ages say in 40 weeks; no part number stands out"
    )
    assert each.url == reverse("component-detail", args=["motor"])


def test_a_kind_is_not_told_twice_nor_where_past_weeks_raise_no_alarm() -> None:
    motor, part = component("motor"), make_part(component=component("motor"))
    keep_factor("motor", 1.41, alert=True)
    keep_evidence(make_run(), motor, part)
    assert [each.part_id for each in found().found] == [part.pk]
    keep_factor("motor", 1.05, alert=False)
    LifeEvidence.objects.all().delete()
    assert found().found == []


def test_the_surest_are_listed_and_the_others_counted() -> None:
    run, parts = make_run(), [make_part(name=f"Part {number}") for number in range(7)]
    for number, part in enumerate(parts):
        keep_evidence(run, Component.objects.order_by("code")[number], part, times=2.0 + number)
    told = found()
    assert [each.part_id for each in told.first] == [part.pk for part in parts[:1:-1]]
    assert told.beyond == 2
    assert told.of_part(make_part().pk) == ""


def test_before_the_first_run_nothing_is_told() -> None:
    assert found().found == []


@pytest.mark.parametrize("name", PAGES)
def test_the_queries_stay_equal_when_more_parts_fail(name: str, sign_in: SignIn) -> None:
    make_door()
    depot, client = make_depot(), sign_in(Role.BUYER)

    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            client.get(reverse(name))
        return len(caught)

    kinds = iter(Component.objects.order_by("code"))
    counted = []
    for more in (1, 3):
        for _number in range(more):
            part = make_part()
            row = make_outlook(part=part, depot=depot, order=2)
            keep_evidence(row.generation, next(kinds), part, make_part())
        counted.append(queries())
    assert counted[0] == counted[1]
