"""The figures command: keys, formats, and clear words for what cannot be asked."""

from __future__ import annotations

import csv
import json
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from analytics.figures import FIGURES
from analytics.models import Computation, DoorFigures
from tests import factories as make
from tests.analytics.asking import ask, ask_text

KEYS = {
    "mcbf": "group doors cycles failures mcbf lower upper confidence bound",
    "mcf": "group at_cycles at_risk failures mcf standard_error lower upper",
    "trend": (
        "group failures laplace_u laplace_p chi2 degrees_of_freedom chi2_p robust_z slope "
        "slope_unbiased scale verdict"
    ),
    "survival": "at_cycles at_risk failures survival standard_error lower upper",
    "life": (
        "component lives failures suspended shape scale_cycles shape_se scale_se loglik "
        "shape_median shape_lower shape_upper scale_median scale_lower scale_upper b10_median "
        "b10_lower b10_upper evidence fit_p"
    ),
    "interval": "component best_cycles lower upper saving verdict reason",
    "usage": "door cycles_now cycles_per_day lower upper last_read_on basis",
    "due": (
        "door truck depot task last_done_on last_done_cycles interval_cycles interval_days "
        "due_cycles due_on due_on_early due_on_late probability_within governed_by state reason"
    ),
    "suspects": (
        "door read_at counter_value cause probability suggestion suggestion_probability status"
    ),
    "demand": (
        "part depot horizon_days mean p05 p10 p50 p90 p95 method on_hand on_order reorder_point "
        "order_up_to suggested_order run_out_on reason"
    ),
    "schedule": "depot date truck tasks minutes late_by_days",
}
NEEDED = {
    "survival": ("--component=converter",),
    "interval": ("--component=converter", "--cost-preventive=100", "--cost-failure=500"),
}
pytestmark = pytest.mark.django_db


def a_bit_of_everything() -> None:
    """Doors with readings, a slip, failures, lives, work, a part and its stock."""
    depot = make.make_depot(code="NORTH")
    part = make.make_part(component=make.component("converter"))
    make.make_stock_count(depot=depot, part=part, on_hand=1, counted_at=make.NOW)
    for number in range(4):
        door = make.make_door(depot=depot, record_from=(make.NOW - timedelta(days=300)).date())
        values = [280 * k for k in range(1, 42)]
        make.make_readings(door=door, values=values, first_at=make.NOW - timedelta(days=293))
        make.make_fault(
            door=door, at_cycles=3000 + 900 * number, component=make.component("converter")
        )
        make.make_fitment(
            door=door,
            component=make.component("converter"),
            part=part,
            removed_on=(make.NOW - timedelta(days=90)).date(),
            removed_at_cycles=3000 + 900 * number,
            removal="failed",
        )
    make.make_reading(door=door, counter_value=90_000, read_at=make.NOW - timedelta(days=1))


def test_every_promised_figure_is_there():
    assert set(FIGURES) == set(KEYS)


@pytest.mark.parametrize("name", KEYS)
def test_keys_and_no_nan(name):
    a_bit_of_everything()
    rows = ask(name, *NEEDED.get(name, ()))
    assert rows
    for row in rows:
        assert list(row) == KEYS[name].split()


@pytest.mark.parametrize("name", KEYS)
def test_an_empty_fleet_has_an_empty_answer(name):
    rows = ask(name, *NEEDED.get(name, ()))
    # An advice is asked for by name, and says that nothing is known yet.
    verdicts = [row.get("verdict") for row in rows]
    assert verdicts == (["unproven"] if name == "interval" else [])


@pytest.mark.parametrize("name", KEYS)
def test_csv_and_table_hold_the_same_rows(name):
    a_bit_of_everything()
    options = NEEDED.get(name, ())
    rows = ask(name, *options)
    read = list(csv.DictReader(StringIO(ask_text(name, *options, "--format=csv"))))
    assert [list(each) for each in read] == [list(each) for each in rows]
    assert len(read) == len(rows)
    first = next(iter(rows[0]))
    assert [each[first] for each in read] == [
        "" if row[first] is None else str(row[first]) for row in rows
    ]
    table = ask_text(name, *options).splitlines()
    assert table[0].split() == KEYS[name].split()
    assert len(table) == len(rows) + 1


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("mcbf", "--by=truck"), "--by must be one of fleet, depot, .*; got 'truck'"),
        (("mcbf", "--component=motr"), "--component must be one of .*motor.*; got 'motr'"),
        (("mcbf", "--confidence=95"), "--confidence must be a number from 0.5 to 0.999; got '95'"),
        (("mcbf", "--since=soon"), "--since must be a day written YYYY-MM-DD; got 'soon'"),
        (("mcbf", "--as-of=2026-13-01"), "--as-of must be a day written YYYY-MM-DD"),
        (("mcbf", "--task=LUB"), "does not take --task; it takes --by, --component"),
        (("due", "--depot=NOWHERE"), "--depot must be one of .none on record.; got 'NOWHERE'"),
        (("due", "--task=XYZ"), "--task must be one of ANN, .*; got 'XYZ'"),
        (("due", "--within=-3"), "--within must be a number from 0 to 3650; got '-3'"),
        (("usage", "--door=ghost"), "--door must be one of .*; got 'ghost'"),
        (("demand", "--part=ghost"), "--part must be one of .*; got 'ghost'"),
        (("demand", "--horizon=nan"), "--horizon must be a number from 1 to 730; got 'nan'"),
        (("schedule", "--days=0"), "--days must be a whole number from 1 to 90; got '0'"),
        (("schedule", "--days=1.5"), "--days must be a whole number from 1 to 90; got '1.5'"),
        (("survival",), "survival needs --component"),
        (("interval", "--component=fuse"), "interval needs --component, --cost-preventive"),
        (
            ("interval", "--component=fuse", "--cost-preventive=9", "--cost-failure=3"),
            "--cost-failure must be more than --cost-preventive; got 3 and 9",
        ),
        (("weather",), "invalid choice: 'weather'"),
    ],
)
def test_wrong_usage_says_what_would_be_right(options, message):
    with pytest.raises(CommandError, match=message) as refusal:
        ask(*options)
    assert refusal.value.returncode in (1, 2)
    if options != ("weather",):
        assert refusal.value.returncode == 2


def test_help_says_what_each_figure_takes(capsys):
    with pytest.raises(SystemExit) as ended:
        call_command("figures", "--help")
    assert ended.value.code == 0
    text = capsys.readouterr().out
    for name in KEYS:
        assert f"  {name}" in text
    assert "--cost-preventive" in text


def test_recompute_says_how_many_doors_and_how_long():
    a_bit_of_everything()
    out = StringIO()
    call_command("recompute", stdout=out)
    doors, _, rest = out.getvalue().partition(" doors in ")
    assert int(doors) == DoorFigures.objects.current().count() == 4
    assert float(rest.removesuffix(" s.\n")) >= 0


def test_recompute_as_of_a_day_takes_that_day():
    a_bit_of_everything()
    day = (make.NOW - timedelta(days=200)).date()
    call_command("recompute", f"--as-of={day}", stdout=StringIO())
    assert Computation.objects.current().get().as_of_on == day
    assert {row.failures for row in DoorFigures.objects.current()} == {0}


def test_recompute_of_a_depot_takes_its_doors_alone():
    a_bit_of_everything()
    elsewhere = make.make_door()
    call_command("recompute", stdout=StringIO())
    elsewhere.revision = 9
    elsewhere.save()
    out = StringIO()
    call_command("recompute", "--depot=NORTH", stdout=out)
    assert out.getvalue().startswith("4 doors in ")
    assert DoorFigures.objects.current().get(door=elsewhere).door_revision == 0


def test_recompute_refuses_what_it_cannot_do():
    make.make_depot(code="NORTH")
    with pytest.raises(CommandError, match="--depot must be one of NORTH; got 'SOUTH'") as refusal:
        call_command("recompute", "--depot=SOUTH")
    assert refusal.value.returncode == 2
    with pytest.raises(CommandError, match="run recompute without --depot first") as refusal:
        call_command("recompute", "--depot=NORTH")
    assert refusal.value.returncode == 1


def test_json_is_one_array():
    assert json.loads(ask_text("usage", "--format=json")) == []
