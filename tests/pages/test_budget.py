"""What parts will cost: quarters with ranges, shares, and the workbook."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from io import BytesIO

import openpyxl
import pytest
from django.urls import reverse

from analytics.models import PartOutlook
from analytics.reports.basis import basis_at
from analytics.reports.budget import budget_of
from fleetdoors.models import Role
from tests.factories import NOW, component, make_depot, make_part, make_part_used
from tests.pages.conftest import SignIn
from tests.pages.running_fleet import compute, make_running_door

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
_WEEK = timedelta(weeks=1)


@pytest.fixture
def used_fuses() -> PartOutlook:
    """A depot that used a fuse in some weeks, computed."""
    depot = make_depot(code="NORTH")
    door = make_running_door(depot=depot)
    fuse = make_part(name="=Fuse", component=component("fuse"), unit_cost=Decimal("2.50"))
    fuse.currency = "USD"
    fuse.save()
    make_part(name="Free of cost")
    for week in (4, 9, 17, 25, 31, 40):
        make_part_used(door=door, part=fuse, used_at=NOW - week * _WEEK, depot=depot)
    compute()
    return PartOutlook.objects.current().get(part=fuse, depot=depot)


def test_a_year_is_what_its_quarters_come_to(used_fuses: PartOutlook) -> None:
    (found,) = budget_of(None, basis_at(None, now=NOW)).currencies
    assert found.currency == "USD"
    assert len(found.quarters) == 4
    assert sum(each.spend.mean for each in found.quarters) == pytest.approx(found.year.mean)
    # The rate that the 90 days ahead were forecast with, over a year.
    yearly = used_fuses.mean / used_fuses.horizon_days * 365.25 * 2.5
    assert found.year.mean == pytest.approx(yearly, rel=0.05)
    assert all(each.spend.lower < each.spend.mean < each.spend.upper for each in found.quarters)
    assert [each.label for each in found.depots] == ["Depot NORTH"]


def test_the_page_says_what_is_left_out(sign_in: SignIn, used_fuses: PartOutlook) -> None:
    shown = sign_in(Role.BUYER).get(reverse("budget")).content.decode()
    assert "The year: " in shown
    assert "USD" in shown
    assert "no labour" in shown


def test_an_empty_fleet_is_told_what_to_do(sign_in: SignIn) -> None:
    shown = sign_in(Role.BUYER).get(reverse("budget")).content.decode()
    assert "Once parts have a unit cost" in shown
    answer = sign_in(Role.BUYER).get(reverse("budget-workbook"))
    assert openpyxl.load_workbook(BytesIO(answer.content)).sheetnames


def test_the_workbook_holds_text_where_text_looks_like_a_formula(
    sign_in: SignIn, used_fuses: PartOutlook
) -> None:
    answer = sign_in(Role.BUYER).get(reverse("budget-workbook"))
    sheet = openpyxl.load_workbook(BytesIO(answer.content))["USD"]
    cells = [cell for row in sheet.iter_rows() for cell in row if cell.value == "=Fuse"]
    assert [cell.data_type for cell in cells] == ["s"]


def test_another_depots_buyer_does_not_see_it(sign_in: SignIn, used_fuses: PartOutlook) -> None:
    client = sign_in(Role.BUYER, [make_depot(code="SOUTH")])
    assert "=Fuse" not in client.get(reverse("budget")).content.decode()
