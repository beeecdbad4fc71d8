"""How a task stands: as computed today, moved on by its dates when the figures are older."""

from datetime import date, timedelta
from itertools import product

import pytest

from analytics.models import DueState, DueTask
from analytics.reports.basis import Basis
from analytics.reports.standing import standing, stands, stands_in
from tests.factories import NOW, task
from tests.pages.planner_rows import make_run

pytestmark = pytest.mark.django_db
TODAY = NOW.date()


def basis(days_old: int) -> Basis:
    run = make_run()
    return Basis(run, TODAY - timedelta(days=days_old), TODAY)


def row(stored: DueState, *, opens: date | None, due: date | None, closes: date | None) -> DueTask:
    return DueTask(state=stored, window_opens_on=opens, due_on=due, window_closes_on=closes)


def in_days(count: int) -> date:
    return TODAY + timedelta(days=count)


@pytest.mark.parametrize("stored", list(DueState))
def test_figures_of_today_keep_the_state_that_was_computed(stored: DueState) -> None:
    past = row(stored, opens=in_days(-30), due=in_days(-20), closes=in_days(-10))
    assert standing(past, basis(0)) == stored


@pytest.mark.parametrize(
    ("opens", "due", "closes", "expected"),
    [
        (1, 5, 9, DueState.LATER),
        (0, 5, 9, DueState.SOON),
        (-5, 0, 5, DueState.DUE),
        (-9, -5, 0, DueState.DUE),
        (-9, -5, -1, DueState.LATE),
    ],
)
def test_older_figures_are_moved_on_by_their_dates(
    opens: int, due: int, closes: int, expected: DueState
) -> None:
    stored = row(DueState.LATER, opens=in_days(opens), due=in_days(due), closes=in_days(closes))
    assert standing(stored, basis(3)) == expected


def test_time_never_makes_a_state_better() -> None:
    late = row(DueState.LATE, opens=in_days(3), due=in_days(5), closes=in_days(9))
    assert standing(late, basis(3)) == DueState.LATE


@pytest.mark.parametrize("stored", [DueState.CONDITION, DueState.UNKNOWN])
def test_dates_do_not_settle_a_finding_or_a_missing_reading(stored: DueState) -> None:
    past = row(stored, opens=in_days(-30), due=in_days(-20), closes=in_days(-10))
    assert standing(past, basis(3)) == stored


@pytest.mark.parametrize("days_old", [0, 3])
def test_the_query_finds_the_rows_that_are_said_to_be_in_each_state(days_old: int) -> None:
    on = basis(days_old)
    assert on.run is not None
    dates = [None, in_days(-2), TODAY, in_days(2)]
    kinds = list(product(DueState, dates, dates, dates))
    lubrication = task("LUB")
    rows = DueTask.objects.bulk_create(
        DueTask(
            generation=on.run,
            door_id=number,  # derived rows may point to doors that are gone
            task=lubrication,
            never_done=False,
            factor=1.0,
            beyond_horizon=False,
            state=stored,
            window_opens_on=opens,
            due_on=due,
            window_closes_on=closes,
        )
        for number, (stored, opens, due, closes) in enumerate(kinds, start=1)
    )
    for state in DueState:
        expected = {each.pk for each in rows if standing(each, on) == state}
        found = set(DueTask.objects.filter(stands(state, on)).values_list("pk", flat=True))
        assert found == expected
    pair = (DueState.SOON, DueState.UNKNOWN)
    both = set(DueTask.objects.filter(stands_in(pair, on)).values_list("pk", flat=True))
    assert both == {each.pk for each in rows if standing(each, on) in pair}
