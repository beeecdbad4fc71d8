"""A fault, the parts it took and the change of the fitted part stand or fall together."""

from dataclasses import replace
from datetime import timedelta

import pytest

from fleetdoors.models import DoorUnit, Fitment, Removal
from inspections.models import Fault, PartUsed
from inspections.services.corrections import CorrectionRefusedError, history_of
from inspections.services.faults import (
    FaultFacts,
    FaultRefusedError,
    PartUse,
    correct_fault,
    record_fault,
)
from inspections.services.fitting import FittingRefusedError, parts_for
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door,
    make_door_model,
    make_fitment,
    make_loose_door,
    make_part,
    make_reading,
    make_user,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
LATER = NOW + timedelta(hours=1)
SAID = FaultFacts(found_at=NOW, complaint="S1")


def test_record_fault_keeps_the_account_and_its_author() -> None:
    door, person = make_door(), make_user()
    facts = FaultFacts(
        found_at=NOW,
        at_cycles=30_500,
        component=component("coil_cable"),
        mode="FM14",
        complaint="S10",
        detected_by="driver",
        is_failure=True,
        action="replace",
        off_road_from=NOW - timedelta(hours=3),
        off_road_until=NOW,
        note="broken at the slider",
    )
    fault = record_fault(door=door, facts=facts, parts=[], entered_at=LATER, entered_by=person)
    kept = Fault.objects.get(pk=fault.pk)
    assert {name: getattr(kept, name) for name in vars(facts)} == vars(facts)
    assert (kept.entered_at, kept.entered_by) == (LATER, person)
    assert DoorUnit.objects.get(pk=door.pk).revision == 1


def test_record_fault_draws_its_parts_from_the_depots_stock() -> None:
    depot, part = make_depot(), make_part()
    door = make_door(depot=depot)
    record_fault(door=door, facts=SAID, parts=[PartUse(part, 3)], entered_at=LATER)
    used = PartUsed.objects.get()
    assert (used.part, used.quantity, used.used_at) == (part, 3, NOW)
    assert (used.depot, used.draws_on_stock) == (depot, True)


def test_record_fault_on_a_door_on_no_truck_draws_on_no_stock() -> None:
    record_fault(
        door=make_loose_door(), facts=SAID, parts=[PartUse(make_part(), 1)], entered_at=LATER
    )
    used = PartUsed.objects.get()
    assert (used.depot, used.draws_on_stock) == (None, False)


@pytest.mark.parametrize("removal", [Removal.FAILED, Removal.PREVENTIVE])
def test_record_fault_changes_the_fitted_part_at_the_cycles_given(removal: Removal) -> None:
    door, cable = make_door(), component("coil_cable")
    part = make_part(component=cable)
    old = make_fitment(door=door, component=cable, position="left", fitted_at_cycles=100)
    record_fault(
        door=door,
        facts=replace(SAID, at_cycles=30_500),
        parts=[PartUse(part, 1, position="left", removal=removal)],
        entered_at=LATER,
    )
    old.refresh_from_db()
    assert (old.removal, old.removed_at_cycles, old.removed_on) == (removal, 30_500, NOW.date())
    assert old.end_entered_at == LATER
    new = Fitment.objects.get(door=door, removal="")
    assert (new.part, new.position, new.fitted_at_cycles) == (part, "left", 30_500)
    assert (new.fitted_on, new.entered_at) == (NOW.date(), LATER)


def test_record_fault_estimates_the_cycles_of_a_change_from_the_readings() -> None:
    """Halfway between 1,000 and 2,000 read ten days apart: 1,500."""
    door, cable = make_door(), component("coil_cable")
    make_reading(door=door, counter_value=1_000, read_at=NOW - timedelta(days=5))
    make_reading(door=door, counter_value=2_000, read_at=NOW + timedelta(days=5))
    make_fitment(door=door, component=cable)
    record_fault(
        door=door,
        facts=SAID,
        parts=[PartUse(make_part(component=cable), 1, removal=Removal.FAILED)],
        entered_at=LATER,
    )
    assert Fitment.objects.get(removal="failed").removed_at_cycles == 1_500
    assert Fitment.objects.get(removal="").fitted_at_cycles == 1_500


def test_record_fault_dates_a_change_by_the_depots_day() -> None:
    """02:00 UTC on the 25th is the evening of the 24th in Chicago."""
    door = make_door(depot=make_depot(timezone="America/Chicago"))
    cable = component("coil_cable")
    record_fault(
        door=door,
        facts=replace(SAID, found_at=NOW.replace(hour=2), at_cycles=10),
        parts=[PartUse(make_part(component=cable), 1, removal=Removal.FAILED)],
        entered_at=LATER,
    )
    assert Fitment.objects.get().fitted_on.day == 24


def test_record_fault_begins_a_life_where_nothing_was_on_record() -> None:
    door, fuse = make_door(), component("fuse")
    record_fault(
        door=door,
        facts=replace(SAID, at_cycles=900),
        parts=[PartUse(make_part(component=fuse), 1, removal=Removal.FAILED)],
        entered_at=LATER,
    )
    fitted = Fitment.objects.get(door=door)
    assert (fitted.component, fitted.fitted_at_cycles, fitted.removal) == (fuse, 900, "")


def test_a_part_used_without_a_word_on_the_old_one_changes_no_life() -> None:
    door, fuse = make_door(), component("fuse")
    old = make_fitment(door=door, component=fuse)
    record_fault(
        door=door, facts=SAID, parts=[PartUse(make_part(component=fuse), 1)], entered_at=LATER
    )
    assert Fitment.objects.get() == old
    assert PartUsed.objects.count() == 1


@pytest.mark.parametrize(
    ("use", "at_cycles", "message"),
    [
        (("coil_cable", ""), 500, "say which: left, right"),
        (("coil_cable", "left"), 99, "went on at 100, not 99"),
        (("coil_cable", "left"), None, "needs lifetime cycles"),
        ((None, ""), 500, "has none"),
    ],
)
def test_record_fault_keeps_nothing_when_the_part_cannot_take_that_place(
    use: tuple[str | None, str], at_cycles: int | None, message: str
) -> None:
    door, cable = make_door(), component("coil_cable")
    for position in ("left", "right"):
        make_fitment(door=door, component=cable, position=position, fitted_at_cycles=100)
    part = make_part(component=component(use[0]) if use[0] else None)
    with pytest.raises(FittingRefusedError, match=message):
        record_fault(
            door=door,
            facts=replace(SAID, at_cycles=at_cycles),
            parts=[PartUse(part, 1, position=use[1], removal=Removal.FAILED)],
            entered_at=LATER,
        )
    assert not Fault.objects.exists()
    assert not PartUsed.objects.exists()
    assert Fitment.objects.filter(removal="").count() == 2
    assert DoorUnit.objects.get(pk=door.pk).revision == 0


@pytest.mark.parametrize(
    ("facts", "field", "message"),
    [
        (replace(SAID, found_at=NOW + timedelta(days=2)), "found_at", "2026-11-27 12:00"),
        (replace(SAID, complaint=""), "component", "both are empty"),
        (replace(SAID, off_road_until=NOW), "off_road_from", "needs its beginning"),
        (
            replace(SAID, off_road_from=NOW, off_road_until=NOW - timedelta(hours=1)),
            "off_road_until",
            "ends after it begins",
        ),
        (replace(SAID, at_cycles=999), "at_cycles", "at least the 1000"),
    ],
)
def test_record_fault_refuses_what_contradicts_itself(
    facts: FaultFacts, field: str, message: str
) -> None:
    with pytest.raises(FaultRefusedError, match=message) as refused:
        record_fault(door=make_door(opening_cycles=1_000), facts=facts, parts=[], entered_at=NOW)
    assert refused.value.field == field
    assert not Fault.objects.exists()


def test_record_fault_refuses_the_failure_mode_of_another_component() -> None:
    facts = replace(SAID, component=component("fuse"), mode="FM14")
    with pytest.raises(FaultRefusedError, match="is not one of Fuse") as refused:
        record_fault(door=make_door(), facts=facts, parts=[], entered_at=NOW)
    assert refused.value.field == "mode"


def test_record_fault_refuses_a_quantity_below_one() -> None:
    with pytest.raises(FaultRefusedError, match="1 or more: 0"):
        record_fault(door=make_door(), facts=SAID, parts=[PartUse(make_part(), 0)], entered_at=NOW)
    assert not Fault.objects.exists()


def test_record_fault_sent_twice_is_one_fault_and_one_use() -> None:
    door, person, part = make_door(), make_user(), make_part()
    for seconds in (0, 20):
        record_fault(
            door=door,
            facts=SAID,
            parts=[PartUse(part, 1)],
            entered_at=NOW + timedelta(seconds=seconds),
            entered_by=person,
        )
    assert Fault.objects.count() == 1
    assert PartUsed.objects.count() == 1


def test_equal_faults_by_two_people_are_two() -> None:
    door = make_door()
    for person in (make_user(), make_user()):
        record_fault(door=door, facts=SAID, parts=[], entered_at=NOW, entered_by=person)
    assert Fault.objects.count() == 2


def test_correct_fault_puts_a_new_row_in_its_place() -> None:
    door, person = make_door(), make_user()
    old = record_fault(door=door, facts=SAID, parts=[PartUse(make_part(), 1)], entered_at=NOW)
    new = correct_fault(
        fault=old,
        facts=replace(SAID, component=component("fuse"), is_failure=False),
        reason="only the fuse",
        entered_at=LATER,
        entered_by=person,
    )
    old.refresh_from_db()
    assert (old.is_failure, old.superseded_at) == (True, LATER)
    assert (new.corrects, new.reason, new.entered_by) == (old, "only the fuse", person)
    assert Fault.objects.in_force().get() == new
    assert history_of(old) == [new, old]
    assert PartUsed.objects.in_force().count() == 1


def test_correct_fault_refuses_a_fault_that_was_corrected() -> None:
    door = make_door()
    old = record_fault(door=door, facts=SAID, parts=[], entered_at=NOW)
    correct_fault(fault=old, facts=replace(SAID, note="x"), reason="more", entered_at=LATER)
    with pytest.raises(CorrectionRefusedError, match="corrected before"):
        correct_fault(fault=old, facts=SAID, reason="again", entered_at=LATER)
    assert Fault.objects.count() == 2


def test_parts_for_leaves_out_what_fits_other_models_only() -> None:
    model, other = make_door_model(), make_door_model()
    everywhere, own, both = make_part(), make_part(fits=[model]), make_part(fits=[model, other])
    make_part(fits=[other])
    assert set(parts_for(model)) == {everywhere, own, both}
    assert parts_for(model).count() == 3
