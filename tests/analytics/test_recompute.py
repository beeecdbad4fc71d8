"""Derived rows: rebuilt as a whole, door by door, and only when somebody wrote."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.forms.models import model_to_dict
from django.test.utils import CaptureQueriesContext

from analytics import tasks
from analytics.datasets.clock import latest_moment
from analytics.models import (
    ComponentLife,
    Computation,
    DoorFigures,
    DueState,
    DueTask,
    PartOutlook,
    SuspectReading,
)
from analytics.recompute import (
    full,
    recompute_doors,
    recompute_fleet,
    recompute_stale,
    stale_door_ids,
)
from analytics.recompute.shelves import refresh_shelves
from analytics.recompute.store import delete_generations, insert_columns
from fleetdoors.models import DoorUnit, MaintenanceTask
from inspections.models import CounterReading, ReadingStatus
from tests import factories as make

NOW = make.NOW
PER_DOOR = (DoorFigures, DueTask, SuspectReading)
pytestmark = pytest.mark.django_db


def small_fleet(doors: int = 3) -> list[DoorUnit]:
    """Doors with a year of readings, 30 to 50 cycles a day, and one slip on the first."""
    depot = make.make_depot(code=f"DEPOT{DoorUnit.objects.count()}")
    found = []
    for number in range(doors):
        door = make.make_door(depot=depot, record_from=(NOW - timedelta(days=357)).date())
        step = 210 + 70 * number
        make.make_readings(
            door=door, values=range(step, 50 * step, step), first_at=NOW - timedelta(days=350)
        )
        found.append(door)
    return found


def run(as_of=NOW) -> Computation:
    return recompute_fleet(as_of=as_of, started_at=latest_moment(as_of))


def rows_of(door: DoorUnit) -> list[dict[str, object]]:
    """A door's derived rows, without their own keys."""
    return [
        {name: value for name, value in model_to_dict(row).items() if name not in ("id",)}
        for model, order in zip(PER_DOOR, ("door", "task", "reading"), strict=True)
        for row in model.objects.current().filter(door=door).order_by(order)
    ]


def test_every_door_and_listed_task_gets_a_row():
    doors = small_fleet()
    computation = run()
    listed = MaintenanceTask.objects.on_due_lists().count()
    assert computation.is_current
    assert computation.doors == DoorFigures.objects.current().count() == len(doors)
    assert DueTask.objects.current().count() == listed * len(doors)


def test_retired_doors_keep_figures_but_no_tasks():
    door = make.make_door(retired_on=(NOW - timedelta(days=9)).date())
    run()
    assert not DoorFigures.objects.current().get(door=door).in_service
    assert not DueTask.objects.current().filter(door=door).exists()


def test_an_empty_database_is_computed_too():
    assert run().doors == 0
    make.make_part()
    make.make_depot()
    run()
    assert PartOutlook.objects.current().count() == 1


def test_usage_and_due_date_follow_from_the_readings():
    door = make.make_door(record_from=(NOW - timedelta(days=350)).date())
    make.make_readings(
        door=door, values=range(280, 280 * 50, 280), first_at=NOW - timedelta(days=343)
    )
    run()
    figures = DoorFigures.objects.current().get(door=door)
    assert figures.cycles_per_day == pytest.approx(40.0, rel=0.03)
    assert figures.cycles_now == pytest.approx(40.0 * 350, rel=0.01)
    assert figures.lower < figures.cycles_per_day < figures.upper
    lube = DueTask.objects.current().get(door=door, task__code="LUB")
    assert (lube.never_done, lube.state, lube.interval_cycles) == (True, DueState.LATE, 5000.0)


def test_high_duty_shortens_the_interval_and_says_so():
    door = make.make_door()
    make.make_readings(
        door=door, values=range(420, 420 * 50, 420), first_at=NOW - timedelta(days=350)
    )
    run()
    lube = DueTask.objects.current().get(door=door, task__code="LUB")
    assert lube.factors == {"high_duty": 0.7}
    assert lube.interval_cycles == pytest.approx(3500)
    assert lube.interval_days == pytest.approx(63)


def test_a_slip_is_held_and_the_next_reading_lets_it_stand_aside():
    door = small_fleet(1)[0]
    slip = make.make_reading(door=door, counter_value=71_000, read_at=NOW - timedelta(days=4))
    run()
    slip.refresh_from_db()
    assert slip.status == ReadingStatus.HELD
    suspect = SuspectReading.objects.current().to_settle().get()
    assert suspect.reading == slip
    assert DoorFigures.objects.current().get().held == 1


def test_a_ruling_of_a_person_stands():
    door = small_fleet(1)[0]
    slip = make.make_reading(
        door=door,
        counter_value=71_000,
        read_at=NOW - timedelta(days=4),
        ruling=ReadingStatus.ACCEPTED,
        status=ReadingStatus.HELD,
    )
    run()
    slip.refresh_from_db()
    assert slip.status == ReadingStatus.ACCEPTED


def test_only_readings_whose_status_differs_are_written():
    small_fleet(1)
    run()
    with CaptureQueriesContext(connection) as queries:
        run()
    table = CounterReading._meta.db_table
    assert not [q for q in queries if q["sql"].startswith(f'UPDATE "{table}"')]


def test_the_generation_before_is_shown_until_the_switch_and_gone_after(monkeypatch):
    small_fleet(1)
    first = run()
    seen = []
    original = full.show

    def show(computation, *, seconds):
        seen.append(Computation.objects.current().get())
        original(computation, seconds=seconds)

    monkeypatch.setattr(full, "show", show)
    second = run()
    assert seen == [first]
    assert list(Computation.objects.all()) == [second]
    for model in (*PER_DOOR, ComponentLife, PartOutlook):
        assert set(model.objects.values_list("generation", flat=True)) <= {second.pk}


def test_a_run_that_started_earlier_does_not_replace_a_later_one():
    small_fleet(1)
    later = recompute_fleet(as_of=NOW, started_at=NOW + timedelta(minutes=5))
    earlier = recompute_fleet(as_of=NOW, started_at=NOW)
    assert not earlier.is_current
    assert Computation.objects.current().get() == later
    assert set(DueTask.objects.values_list("generation", flat=True)) == {later.pk}


def test_rows_of_a_run_that_died_are_swept_away():
    small_fleet(1)
    dead = Computation.objects.create(as_of=NOW, started_at=NOW - timedelta(days=1))
    DoorFigures.objects.bulk_create(
        [
            DoorFigures(
                generation=dead, door=DoorUnit.objects.get(), door_revision=0, in_service=True,
                start_cycles=0, end_cycles=1, failures=0, cycles_per_day=1, lower=1, upper=1,
                basis="none", accepted=0, held=0, holds_in_row=0, log_rate=0, rate_variance=0,
            )
        ]
    )  # fmt: skip
    run()
    assert not DoorFigures.objects.filter(generation=dead.pk).exists()


def test_a_write_makes_its_door_stale_and_nothing_else():
    written, other = small_fleet(2)
    run()
    assert stale_door_ids(as_of=NOW) == []
    DoorUnit.objects.filter(pk=written.pk).raise_revision()
    assert stale_door_ids(as_of=NOW) == [written.pk]
    assert recompute_stale(as_of=NOW) == 1
    assert stale_door_ids(as_of=NOW) == []
    assert DoorFigures.objects.current().get(door=other).door_revision == 0


def test_a_new_door_is_stale_from_the_day_its_record_begins():
    run()
    begun = make.make_door()
    make.make_door(record_from=(NOW + timedelta(days=3)).date())
    assert stale_door_ids(as_of=NOW) == [begun.pk]


def test_one_door_alone_gets_the_same_figures_as_with_the_fleet():
    doors = small_fleet(12)
    make.make_reading(door=doors[0], counter_value=71_000, read_at=NOW - timedelta(days=4))
    make.make_task_done(door=doors[0], task=make.task("ANN"), done_at=NOW - timedelta(days=90))
    make.make_fault(door=doors[0], found_at=NOW - timedelta(days=50))
    run()
    before = {door.pk: rows_of(door) for door in doors}
    assert recompute_doors([door.pk for door in doors[:2]], as_of=NOW) == 2
    for door in doors:
        for old, new in zip(before[door.pk], rows_of(door), strict=True):
            assert new.keys() == old.keys()
            for name, value in new.items():
                is_float = isinstance(value, float)
                assert value == (pytest.approx(old[name], rel=1e-9) if is_float else old[name])


def test_one_door_takes_what_was_written_and_leaves_the_others_alone():
    door, other = small_fleet(2)
    run()
    untouched = [row["id"] for row in DueTask.objects.filter(door=other).values("id")]
    make.make_task_done(
        door=door, task=make.task("LUB"), done_at=NOW - timedelta(days=1), at_cycles=10_000
    )
    recompute_doors([door.pk], as_of=NOW)
    lube = DueTask.objects.current().get(door=door, task__code="LUB")
    assert (lube.never_done, lube.last_done_cycles, lube.due_cycles) == (False, 10_000, 15_000)
    assert [row["id"] for row in DueTask.objects.filter(door=other).values("id")] == untouched


def test_one_door_runs_as_many_queries_whatever_the_fleet():
    counts = []
    for _round in range(2):
        door = small_fleet(4)[0]
        run()
        with CaptureQueriesContext(connection) as queries:
            recompute_doors([door.pk], as_of=NOW)
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_without_any_run_a_single_door_waits_for_the_first():
    door = small_fleet(1)[0]
    assert recompute_doors([door.pk], as_of=NOW) == 0
    assert stale_door_ids(as_of=NOW) == [door.pk]


def test_a_door_recomputed_for_a_generation_no_longer_shown_writes_nothing(monkeypatch):
    door = small_fleet(1)[0]
    old = run()
    monkeypatch.setattr(
        "analytics.recompute.some.Computation.objects.current",
        lambda: Computation.objects.filter(pk=old.pk),
    )
    Computation.objects.filter(pk=old.pk).update(is_current=False)
    DoorFigures.objects.all().delete()
    recompute_doors([door.pk], as_of=NOW)
    assert not DoorFigures.objects.exists()


def test_parts_of_a_date_stand_for_that_date():
    small_fleet(1)
    day = (NOW - timedelta(days=100)).date()
    computation = run(day)
    assert computation.as_of_on == day
    figures = DoorFigures.objects.current().get()
    assert figures.last_read_at.date() < day


def test_asking_computes_at_once_in_this_process():
    door = small_fleet(1)[0]
    tasks.request_recompute([door.pk])
    assert Computation.objects.current().exists()
    make.make_fault(door=door, found_at=NOW - timedelta(days=2))
    tasks.request_recompute([door.pk])
    assert DoorFigures.objects.current().get().failures == 1


def test_asking_for_whatever_is_stale_takes_the_stale_doors():
    door, other = small_fleet(2)
    tasks.request_recompute(None)
    first = Computation.objects.current().get()
    DoorUnit.objects.filter(pk=door.pk).raise_revision()
    tasks.request_recompute(None)
    assert Computation.objects.current().get() == first
    assert DoorFigures.objects.current().get(door=door).door_revision == 1
    assert DoorFigures.objects.current().get(door=other).door_revision == 0


def test_many_stale_doors_are_taken_in_one_run(monkeypatch):
    monkeypatch.setattr(tasks, "FEWEST_FOR_FULL_RUN", 2)
    small_fleet(4)
    tasks.request_recompute(None)
    first = Computation.objects.current().get()
    DoorUnit.objects.raise_revision()
    tasks.request_recompute(None)
    assert Computation.objects.current().get() != first


def test_asking_never_fails_the_write_before(monkeypatch, caplog):
    door = small_fleet(1)[0]

    def broken(*_args, **_options):
        raise RuntimeError("no figures today")

    monkeypatch.setattr(tasks, "recompute_fleet", broken)
    tasks.request_recompute([door.pk])
    assert stale_door_ids(as_of=NOW) == [door.pk]
    assert "recompute_not_done" in caplog.text


def test_with_a_queue_the_request_only_sends(settings, monkeypatch):
    settings.REDIS_URL = "redis://nowhere.invalid:6379"
    sent = []
    monkeypatch.setattr(tasks.bring_up_to_date, "delay", sent.append)
    tasks.request_recompute([4, 5])
    tasks.request_recompute(None)
    assert sent == [[4, 5], None]
    assert not Computation.objects.exists()


def counted_part(depot, *, on_hand: int):
    """A part used every week, with the shelf counted yesterday."""
    part = make.make_part(part_number="SEAL", component=make.component("bottom_seal"))
    door = make.make_door(depot=depot)
    for weeks in range(50):
        make.make_part_used(door=door, part=part, used_at=NOW - timedelta(weeks=weeks, days=2))
    make.make_stock_count(
        depot=depot, part=part, on_hand=on_hand, counted_at=NOW - timedelta(days=1)
    )
    return part, door


def test_a_part_taken_from_the_shelf_shows_at_once():
    depot = make.make_depot()
    part, door = counted_part(depot, on_hand=30)
    run()
    before = PartOutlook.objects.current().get(part=part)
    assert (before.on_hand, before.suggested_order) == (30, 0)
    make.make_part_used(
        door=door, part=part, quantity=29, depot=depot, draws_on_stock=True,
        used_at=NOW - timedelta(hours=1),
    )  # fmt: skip
    recompute_doors([door.pk], as_of=NOW)
    after = PartOutlook.objects.current().get(part=part)
    assert (after.on_hand, after.reorder_point) == (1, before.reorder_point)
    assert after.suggested_order >= after.order_up_to - 1
    assert after.run_out_on < before.run_out_on
    run()
    assert PartOutlook.objects.current().get(part=part).on_hand == 1


def test_a_count_brings_the_orders_up_to_date():
    depot = make.make_depot()
    part, _door = counted_part(depot, on_hand=30)
    tasks.request_recompute(None)
    make.make_stock_count(depot=depot, part=part, on_hand=0, on_order=2, counted_at=NOW)
    tasks.request_recompute(())
    row = PartOutlook.objects.current().get(part=part)
    assert (row.on_hand, row.on_order) == (0, 2)
    assert row.suggested_order > 0


def test_figures_of_a_past_day_keep_the_stock_of_that_day():
    depot = make.make_depot()
    part, _door = counted_part(depot, on_hand=30)
    run((NOW - timedelta(days=5)).date())
    assert refresh_shelves(None, as_of=NOW) == 0
    assert PartOutlook.objects.current().get(part=part).on_hand is None


def test_insert_columns_refuses_a_name_without_a_column():
    with pytest.raises(ValueError, match="'counters' has none"):
        insert_columns(DoorUnit, {"counters": [1]})


def test_delete_generations_leaves_the_others():
    small_fleet(1)
    shown = run()
    delete_generations(PER_DOOR, [shown.pk + 1])
    assert DoorFigures.objects.filter(generation=shown).exists()
    delete_generations(PER_DOOR, [shown.pk])
    assert not DoorFigures.objects.exists()
