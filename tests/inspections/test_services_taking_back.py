"""Parts fitted, taken off or used by mistake are taken back: lives, stock, record, exports."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from analytics.datasets.fitments import End, FitmentRows
from analytics.datasets.fleet import fetch_fleet
from fleetdoors.models import DoorUnit, Fitment, Part
from inspections.models import (
    ClaimState,
    MovementKind,
    PartReturn,
    PartTakenBack,
    PartUsed,
    StockMovement,
)
from inspections.record_changes import changes, shown
from inspections.services.corrections import CorrectionRefusedError
from inspections.services.faults import FaultFacts, PartUse, record_fault
from inspections.services.findings import Correction
from inspections.services.fleet_folder.exporting import export_fleet
from inspections.services.fleet_folder.importing import import_fleet
from inspections.services.stock_now import on_hand_now
from inspections.services.taking_back import (
    fitting_written_with,
    life_before,
    may_be_in_place_still,
    take_back_fitting,
    take_back_removal,
    take_back_use,
    use_written_with,
)
from inspections.truck_history import Range, history_of_truck
from tests import factories as make
from tests.recompute_requests import REQUESTS
from tests.stock_factories import make_claim

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]

LATER = make.NOW + timedelta(hours=3)
TODAY = make.NOW.date()


def slip(reason: str = "it went on another truck") -> Correction:
    return Correction(reason=reason, entered_at=LATER, entered_by=make.make_user())


def spring_door() -> tuple[DoorUnit, Fitment, Part]:
    """A door with a spring in place since its record began, and five springs on the shelf."""
    depot = make.make_depot(code="NORTH")
    door = make.make_door(truck=make.make_truck(depot=depot))
    part = make.make_part(component=make.component("spring"))
    make.make_stock_count(
        depot=depot, part=part, on_hand=5, counted_at=make.NOW - timedelta(days=9)
    )
    return door, make.make_fitment(door=door, component=make.component("spring")), part


def changed(
    door: DoorUnit, part: Part, *, at: int, hours_ago: int = 5, quantity: int = 1
) -> Fitment:
    """The spring is changed because it failed, at so many cycles."""
    moment = make.NOW - timedelta(hours=hours_ago)
    record_fault(
        door=door,
        facts=FaultFacts(found_at=moment, at_cycles=at, component=part.component),
        parts=[PartUse(part, quantity, removal="failed")],
        entered_at=moment,
    )
    return Fitment.objects.get(door=door, entered_at=moment)


def shelf(door: DoorUnit, part: Part) -> int:
    stock = on_hand_now(depot=door.mountings.get().truck.depot, part=part)
    assert stock is not None
    return stock.on_hand


def told(rows: FitmentRows) -> list[tuple[float, int, float]]:
    """Where each life began, how it ended and where."""
    ends = np.nan_to_num(rows.removed_at_cycles, nan=-1.0)
    return sorted(
        zip(rows.fitted_at_cycles.tolist(), rows.end.tolist(), ends.tolist(), strict=True)
    )


def test_the_life_before_goes_on_and_the_piece_lies_on_the_shelf_again() -> None:
    door, old, part = spring_door()
    new = changed(door, part, at=1_500)
    assert (shelf(door, part), life_before(new)) == (4, Fitment.objects.get(pk=old.pk))
    REQUESTS.clear()
    before = DoorUnit.objects.get(pk=door.pk).revision
    taken = take_back_fitting(fitment=new, pieces_back=1, correction=slip())
    going_on = Fitment.objects.in_place().get()
    assert (going_on.corrects_id, going_on.fitted_at_cycles) == (old.pk, 0)
    assert going_on.entered_at == old.entered_at
    assert (taken.fitment, taken.restored, taken.is_removal) == (new, going_on, False)
    assert taken.entered_by is not None
    assert shelf(door, part) == 5
    assert not PartUsed.objects.in_force().exists()
    assert StockMovement.objects.filter(kind=MovementKind.CORRECTION, reverses__isnull=False).get()
    assert DoorUnit.objects.get(pk=door.pk).revision > before
    # What was written stands as it was written.
    written = Fitment.objects.get(pk=old.pk)
    assert (written.removal, written.removed_at_cycles) == ("failed", 1_500)
    assert Fitment.objects.get(pk=new.pk).superseded_at == LATER


def test_figures_know_what_was_known() -> None:
    door, _old, part = spring_door()
    new = changed(door, part, at=1_500)
    take_back_fitting(fitment=new, pieces_back=1, correction=slip())
    Fitment.objects.exclude(superseded_at=None).update(superseded_at=make.NOW + timedelta(days=3))
    as_it_stood = fetch_fleet(TODAY + timedelta(days=2)).fitments
    assert told(as_it_stood) == [(0.0, End.FAILED, 1_500.0), (1_500.0, End.FITTED, -1.0)]
    assert told(fetch_fleet(TODAY + timedelta(days=5)).fitments) == [(0.0, End.FITTED, -1.0)]


def test_a_fitting_between_two_others_leaves_the_first_to_the_last() -> None:
    door, old, part = spring_door()
    wrong = changed(door, part, at=1_500, hours_ago=5)
    last = changed(door, part, at=1_800, hours_ago=2)
    take_back_fitting(fitment=wrong, pieces_back=0, correction=slip("typed twice"))
    lives = Fitment.objects.in_force().order_by("fitted_at_cycles")
    assert [(each.fitted_at_cycles, each.removed_at_cycles) for each in lives] == [
        (0, 1_800),
        (1_800, None),
    ]
    # Now the last one too: the first goes on to this day.
    take_back_fitting(fitment=last, pieces_back=1, correction=slip())
    only = Fitment.objects.in_force().get()
    assert (only.removal, only.corrects.corrects_id) == ("", old.pk)
    assert shelf(door, part) == 4


def test_of_two_without_a_cycle_between_them_the_last_made_room() -> None:
    door, _old, part = spring_door()
    first = changed(door, part, at=1_500, hours_ago=5)
    second = changed(door, part, at=1_500, hours_ago=2)
    first.refresh_from_db()
    assert life_before(second) == first
    take_back_fitting(fitment=first, pieces_back=1, correction=slip())
    first_life = Fitment.objects.in_place().get()
    assert first_life == second
    before = life_before(second)
    assert before is not None
    assert before.fitted_at_cycles == 0


def test_a_first_part_leaves_its_place_empty() -> None:
    door = make.make_door(truck=make.make_truck())
    new = changed(door, make.make_part(component=make.component("spring")), at=1_500)
    taken = take_back_fitting(fitment=new, pieces_back=1, correction=slip())
    assert taken.restored is None
    assert not Fitment.objects.in_force().exists()


def test_some_pieces_stay_used() -> None:
    door, _old, part = spring_door()
    new = changed(door, part, at=1_500, quantity=3)
    take_back_fitting(fitment=new, pieces_back=2, correction=slip())
    assert PartUsed.objects.in_force().get().quantity == 1
    assert shelf(door, part) == 4


def test_a_use_corrected_since_is_found() -> None:
    door, _old, part = spring_door()
    new = changed(door, part, at=1_500, quantity=2)
    first = PartUsed.objects.get()
    assert (use_written_with(new), fitting_written_with(first)) == (first, new)
    take_back_use(used=first, correction=slip("it was another part"))
    assert use_written_with(new) is None
    with pytest.raises(CorrectionRefusedError, match="0, not 1"):
        take_back_fitting(fitment=new, pieces_back=1, correction=slip())


def test_a_removal_is_taken_back_while_nothing_is_in_its_place() -> None:
    door, old, part = spring_door()
    off = {"removal": "other", "removed_on": TODAY, "removed_at_cycles": 1_500}
    Fitment.objects.filter(pk=old.pk).update(**off, end_entered_at=make.NOW)
    old.refresh_from_db()
    assert may_be_in_place_still(old)
    taken = take_back_removal(fitment=old, correction=slip("only looked at"))
    assert taken.is_removal
    assert Fitment.objects.in_place().get().corrects_id == old.pk
    assert not may_be_in_place_still(Fitment.objects.get(pk=old.pk))
    changed(door, part, at=1_700)
    ended = Fitment.objects.in_force().get(removal="failed")
    with pytest.raises(CorrectionRefusedError, match="fitted in its place"):
        take_back_removal(fitment=ended, correction=slip())


@pytest.mark.parametrize(
    ("pieces", "reason", "says"),
    [(1, " ", "reason is empty"), (2, "x", "1, not 2"), (-1, "x", "-1")],
)
def test_what_is_refused_changes_nothing(pieces: int, reason: str, says: str) -> None:
    door, _old, part = spring_door()
    new = changed(door, part, at=1_500)
    with pytest.raises(CorrectionRefusedError, match=says):
        take_back_fitting(fitment=new, pieces_back=pieces, correction=slip(reason))
    assert Fitment.objects.in_force().count() == 2
    assert not PartTakenBack.objects.exists()
    assert shelf(door, part) == 4


def test_nothing_is_taken_back_twice() -> None:
    door, _old, part = spring_door()
    new = changed(door, part, at=1_500)
    take_back_fitting(fitment=new, pieces_back=1, correction=slip())
    with pytest.raises(CorrectionRefusedError, match="taken back before"):
        take_back_fitting(fitment=new, pieces_back=0, correction=slip())


@pytest.mark.parametrize("which", ["removal", ""], ids=["before", "itself"])
def test_an_open_claim_holds_its_part(which: str) -> None:
    door, old, part = spring_door()
    new = changed(door, part, at=1_500)
    claim = make_claim(fitment=old if which else new)
    with pytest.raises(CorrectionRefusedError, match="drop the claim first"):
        take_back_fitting(fitment=new, pieces_back=1, correction=slip())
    PartReturn.objects.filter(pk=claim.pk).update(state=ClaimState.DROPPED)
    take_back_fitting(fitment=new, pieces_back=1, correction=slip())


def test_the_record_tells_it_struck_out() -> None:
    door, _old, part = spring_door()
    new = changed(door, part, at=1_500)
    correction = slip("wrong truck")
    take_back_fitting(fitment=new, pieces_back=1, correction=correction)
    truck = door.mountings.get().truck
    lines = history_of_truck(truck, Range(date(2000, 1, 1), TODAY + timedelta(days=1)))
    fitted = [line for line in lines if line.nature.startswith("Fitted")]
    assert sorted((line.at_cycles, line.corrected_because) for line in fitted) == [
        (0, ""),
        (1_500, "wrong truck"),
    ]
    [change] = [each for each in shown(changes()) if each.label == "part taken back"]
    assert (change.by, change.words.why) == (correction.entered_by, "wrong truck")
    assert str(part) in change.words.before


def test_an_export_knows_only_what_stands_and_an_older_one_changes_nothing(tmp_path: Path) -> None:
    door, _old, part = spring_door()
    new = changed(door, part, at=1_500)
    export_fleet(tmp_path / "before")
    take_back_fitting(fitment=new, pieces_back=1, correction=slip())
    export_fleet(tmp_path / "after")
    rows = (tmp_path / "after" / "fitments.csv").read_text().splitlines()
    assert len(rows) == 2
    assert ",failed" not in rows[1]
    for folder in ("before", "after"):
        report = import_fleet(tmp_path / folder, now=LATER + timedelta(hours=1))
        assert not report.refused, list(report.problems)
        [count] = [each for each in report.counts if each.table == "fitments"]
        assert count.changes_nothing
    assert Fitment.objects.in_force().get().removal == ""
