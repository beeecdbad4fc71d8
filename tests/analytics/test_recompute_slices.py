"""A large fleet some depots at a time: the same rows, whatever is lost, repeated or late."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from pytest_django.fixtures import Settings

from analytics import tasks
from analytics.assessment import learned
from analytics.checking.running import start_checking
from analytics.models import Computation, ComputationSlice, DoorFigures, LifeEvidence
from analytics.recompute import recompute_doors, recompute_fleet, stale_door_ids, store
from analytics.recompute.fleet_slices import begin_slices, compute_slice, show_slices
from analytics.recompute.full import DERIVED
from analytics.recompute.under_way import STALLED_AFTER, ask_again_for_lost
from analytics.running import start_recomputing
from fleetdoors.models import DoorUnit
from fleetdoors.services.recomputation import doors_changed
from tests import factories as make

NOW = make.NOW
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def small_slices(settings: Settings, recompute_requests: list[tuple[int, ...]]) -> None:
    """A slice for each depot; nobody computes what a write asks for."""
    settings.DOORS_IN_SLICE = 1


@pytest.fixture
def fleet() -> list[DoorUnit]:
    """Doors at three depots and one at none, with lives, faults, use, stock and a slip."""
    spring = make.component("spring")
    part = make.make_part(component=spring)
    depots = [make.make_depot(code=f"D{number}") for number in range(3)]
    for depot in depots:
        make.make_stock_count(depot=depot, part=part, on_hand=3)
    doors = []
    for number in range(9):
        depot = depots[number // 3]
        door = make.make_door(depot=depot, record_from=(NOW - timedelta(days=357)).date())
        step = 210 + 40 * number
        make.make_readings(
            door=door, values=range(step, 50 * step, step), first_at=NOW - timedelta(days=350)
        )
        make.make_fitment(door=door, component=spring, part=part)
        make.make_fault(door=door, component=spring, found_at=NOW - timedelta(days=10 * number))
        make.make_part_used(door=door, part=part, used_at=NOW - timedelta(days=5 * number + 1))
        doors.append(door)
    make.make_reading(door=doors[4], counter_value=999_000, read_at=NOW - timedelta(days=1))
    make.make_readings(
        door=make.make_loose_door(record_from=(NOW - timedelta(days=357)).date()),
        values=range(100, 1_000, 100),
    )
    return doors


def rows() -> dict[str, list[dict[str, object]]]:
    """Every derived row that is shown, without keys of its own."""
    found = {}
    for model in DERIVED:
        shown = [
            {key: value for key, value in row.items() if key not in ("id", "generation_id")}
            for row in model.objects.filter(generation__is_current=True).values()
        ]
        found[model.__name__] = sorted(shown, key=str)
    return found


def begun() -> list[int]:
    """A run by slices that has begun; the keys of its slices."""
    run = begin_slices(as_of=NOW, started_at=NOW)
    return list(run.slices.values_list("pk", flat=True))


def finish(slice_ids: list[int]) -> Computation | None:
    for slice_id in slice_ids:
        compute_slice(slice_id, now=NOW)
    return show_slices(Computation.objects.latest("pk").pk, now=NOW)


def test_slices_make_the_same_rows_as_one_piece(fleet: list[DoorUnit]) -> None:
    whole_run = recompute_fleet(as_of=NOW, started_at=NOW)
    whole = rows()
    slices = begun()
    assert len(slices) == 1 + 1 + 3, "the whole fleet, the door at no depot, and three depots"
    run = finish(slices)
    assert run is not None
    assert run != whole_run
    assert rows() == whole
    # Sums are kept for very many doors only, and nobody looked at a spring.
    empty = {name for name, found in whole.items() if not found}
    assert empty <= {"ReliabilitySums", "CheckEvidence"}
    assert not ComputationSlice.objects.exists()


def test_from_many_doors_a_sample_speaks_for_what_is_usual(
    fleet: list[DoorUnit], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(learned, "LEARNED_FROM", 4)
    one_piece = recompute_fleet(as_of=NOW, started_at=NOW)
    one_piece.refresh_from_db()
    whole = rows()
    sliced = finish(begun())
    assert sliced is not None
    sliced.refresh_from_db()
    assert sliced.parameters == one_piece.parameters
    assert rows() == whole
    assert one_piece.parameters["fleet_prior"][2] == 4, "of ten doors every third"


def test_rows_written_a_few_at_a_time_are_the_same(
    fleet: list[DoorUnit], monkeypatch: pytest.MonkeyPatch
) -> None:
    recompute_fleet(as_of=NOW, started_at=NOW)
    at_once = rows()
    monkeypatch.setattr(store, "ROWS_AT_ONCE", 4)
    recompute_fleet(as_of=NOW, started_at=NOW)
    assert rows() == at_once
    assert len(at_once["DoorFigures"]) > 2 * 4


def test_a_slice_done_twice_is_done_once(fleet: list[DoorUnit]) -> None:
    whole_fleet, first, *others = begun()
    assert compute_slice(first, now=NOW)
    count = DoorFigures.objects.count()
    assert not compute_slice(first, now=NOW)
    assert DoorFigures.objects.count() == count
    assert finish([*others, whole_fleet]) is not None
    assert not compute_slice(first, now=NOW), "and not after the run is shown"


def test_a_slice_that_broke_half_way_leaves_nothing(
    fleet: list[DoorUnit], monkeypatch: pytest.MonkeyPatch
) -> None:
    _whole_fleet, first, *_others = begun()

    def broken(*_args: object) -> int:
        raise MemoryError

    with monkeypatch.context() as patch:
        patch.setattr("analytics.recompute.fleet_slices.update_statuses", broken)
        with pytest.raises(MemoryError):
            compute_slice(first, now=NOW)
    assert not DoorFigures.objects.exists()
    assert compute_slice(first, now=NOW)


def test_a_run_is_shown_once_and_only_when_every_slice_is_done(fleet: list[DoorUnit]) -> None:
    before = recompute_fleet(as_of=NOW, started_at=NOW - timedelta(days=1))
    *first, last = begun()
    assert finish(first) is None
    assert Computation.objects.current().get() == before
    shown = finish([last])
    assert shown is not None
    assert Computation.objects.get() == shown
    assert show_slices(shown.pk, now=NOW) is None
    assert LifeEvidence.objects.count() == 1


def test_what_is_written_meanwhile_is_stale_when_the_run_is_shown(fleet: list[DoorUnit]) -> None:
    door = fleet[5]
    slices = begun()
    make.make_reading(
        door=door, counter_value=60_000, read_at=NOW, entered_at=NOW + timedelta(seconds=1)
    )
    doors_changed([door.pk])
    assert finish(slices) is not None
    later = NOW + timedelta(minutes=1)
    assert stale_door_ids(as_of=later) == [door.pk]
    recompute_doors([door.pk], as_of=later)
    assert stale_door_ids(as_of=later) == []


def test_of_two_runs_at_once_the_later_one_is_shown(fleet: list[DoorUnit]) -> None:
    earlier = begin_slices(as_of=NOW, started_at=NOW)
    later = begin_slices(as_of=NOW, started_at=NOW + timedelta(seconds=1))
    for run in (later, earlier):
        for part in list(run.slices.all()):
            compute_slice(part.pk, now=NOW)
    assert show_slices(later.pk, now=NOW) == later
    assert show_slices(earlier.pk, now=NOW) == earlier
    assert Computation.objects.get() == later
    for model in DERIVED:
        assert set(model.objects.values_list("generation", flat=True)) <= {later.pk}


def test_what_was_lost_with_the_queue_is_asked_for_again_once(fleet: list[DoorUnit]) -> None:
    first, *others = begun()
    compute_slice(first, now=NOW)
    soon, late = NOW + STALLED_AFTER / 2, NOW + STALLED_AFTER * 2
    assert ask_again_for_lost(soon).slice_ids == ()
    assert ask_again_for_lost(late).slice_ids == tuple(others)
    assert ask_again_for_lost(late).slice_ids == ()
    for slice_id in others:
        compute_slice(slice_id, now=late)
    lost = ask_again_for_lost(late + STALLED_AFTER * 2)
    assert lost.slice_ids == ()
    assert lost.run_ids == (Computation.objects.get().pk,)


def test_with_workers_a_full_run_is_sent_to_them_once(
    fleet: list[DoorUnit], settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.REDIS_URL = "redis://nowhere.invalid:6379"
    sent: list[int] = []
    monkeypatch.setattr(tasks.compute_some_depots, "delay", sent.append)
    assert tasks.bring_up_to_date() == 5
    assert sent == list(ComputationSlice.objects.values_list("pk", flat=True))
    assert tasks.bring_up_to_date() == 0, "the run under way will do"
    assert Computation.objects.count() == 1


def test_with_workers_pages_send_their_work_to_them(
    fleet: list[DoorUnit], settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.REDIS_URL = "redis://nowhere.invalid:6379"
    sent: list[str] = []
    monkeypatch.setattr(tasks.recompute_whole_fleet, "delay", lambda: sent.append("recompute"))
    monkeypatch.setattr(tasks.check_past_forecasts, "delay", lambda: sent.append("check"))
    start_recomputing(now=NOW)
    start_checking(now=NOW)
    assert sent == ["recompute", "check"]
    assert not Computation.objects.exists()


def test_the_page_counts_the_slices(client, fleet: list[DoorUnit]) -> None:  # type: ignore[no-untyped-def]
    client.force_login(make.make_user(role=make.Role.PLANNER))
    first, *_others = begun()
    compute_slice(first, now=NOW)
    asked_at = timezone.now()
    Computation.objects.update(started_at=asked_at)
    address = reverse("recompute-progress", query={"since": asked_at.isoformat()})
    assert "1 of 5" in client.get(address).content.decode()
