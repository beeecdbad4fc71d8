"""Only the fuse that a door calls for is handed out for it or fitted: type, current, voltage."""

from __future__ import annotations

from datetime import timedelta

import pytest

from fleetdoors.fuse_marks import FuseMark, read_mark
from fleetdoors.models import DoorUnit, Part, PartKit, PartKitLine
from inspections.models import PartUsed, StockMovement
from inspections.services.corrections import CorrectionRefusedError
from inspections.services.faults import FaultRefusedError, PartUse, use_parts
from inspections.services.findings import Correction
from inspections.services.fuse_check import fuse_objection
from inspections.services.issuing import issue_kit, issue_pieces
from inspections.services.ledger import StockRefusedError
from inspections.services.parts_used import correct_part_used
from tests.factories import NOW, component, make_door, make_fuse_position, make_part
from tests.stock_factories import said, stocked

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
RIGHT = "blade fuse; 20 A; 58 V DC"
WRONG = (
    "blade fuse; 25 A; 58 V DC",
    "blade fuse; 20 A; 32 V DC",
    "glass fuse; 20 A; 58 V DC",
)
HALF_MARKED = ("", "20 A", "blade fuse; 20 A", "blade fuse; 20 A; 58 V AC", "20 A; 58 V")


def fuse(rating: str = RIGHT) -> Part:
    part = make_part(name="Board fuse", component=component("fuse"))
    part.rating = rating
    part.save()
    return part


@pytest.fixture
def door() -> DoorUnit:
    """A door whose model calls for one fuse."""
    found = make_door()
    make_fuse_position(door_model=found.door_model)
    return found


@pytest.mark.parametrize(
    ("text", "mark"),
    [
        (RIGHT, FuseMark("blade fuse", 20, 58)),
        ("58V DC, 20A Blade  Fuse", FuseMark("blade fuse", 20, 58)),
        ("blade fuse; 7,5 A; 32 V", FuseMark("blade fuse", 7.5, 32)),
        ("blade fuse; 20 A; 250 V AC; 58 V DC", FuseMark("blade fuse 250 v ac", 20, 58)),
        ("20 Ah battery", FuseMark("20 ah battery", None, None)),
        ("fuse 20 A or 25 A; 58 V DC", FuseMark("fuse or", None, 58)),
        ("", FuseMark("", None, None)),
    ],
)
def test_a_marking_is_read_from_its_words(text: str, mark: FuseMark) -> None:
    assert read_mark(text) == mark


def test_the_right_fuse_and_other_parts_are_no_matter(door: DoorUnit) -> None:
    motor = make_part(component=component("motor"))
    for part in (fuse(), fuse("58 V DC; 20 A; BLADE FUSE"), motor, make_part()):
        assert fuse_objection(part=part, door=door) == ""


@pytest.mark.parametrize("rating", WRONG)
def test_another_type_current_or_voltage_is_refused_in_words(door: DoorUnit, rating: str) -> None:
    said_why = fuse_objection(part=fuse(rating), door=door)
    assert f"is marked {rating}" in said_why
    assert "calls for blade fuse; 20 A; 58 V DC" in said_why
    assert "Find the cause" in said_why


@pytest.mark.parametrize("rating", HALF_MARKED)
def test_a_fuse_not_fully_marked_is_refused(door: DoorUnit, rating: str) -> None:
    assert "not fully on record" in fuse_objection(part=fuse(rating), door=door)


def test_a_position_has_its_own_fuse_and_without_one_any_will_do(door: DoorUnit) -> None:
    make_fuse_position(door_model=door.door_model, position="feed", amps=30.0)
    board, feed = fuse(), fuse("blade fuse; 30 A; 58 V DC")
    assert fuse_objection(part=board, door=door, position="feed").count("30 A") == 1
    assert fuse_objection(part=feed, door=door, position="feed") == ""
    assert fuse_objection(part=feed, door=door) == ""
    assert fuse_objection(part=board, door=door) == ""
    assert " or " in fuse_objection(part=fuse(WRONG[0]), door=door)


def test_a_door_model_that_names_no_fuse_calls_for_none() -> None:
    assert fuse_objection(part=fuse(WRONG[0]), door=make_door()) == ""


def test_the_desk_hands_out_the_right_fuse_only(door: DoorUnit) -> None:
    right, wrong = fuse(), fuse(WRONG[1])
    shelf = stocked(part=right, pieces=3)
    stocked(place=shelf, part=wrong, pieces=3)
    before = StockMovement.objects.count()
    with pytest.raises(StockRefusedError, match="32 V DC") as refused:
        issue_pieces(place=shelf, part=wrong, quantity=1, said=said(), door=door)
    assert refused.value.field == "door"
    assert StockMovement.objects.count() == before
    issue_pieces(place=shelf, part=right, quantity=1, said=said(), door=door)
    # For no door in particular nobody can tell which is the right one.
    issue_pieces(place=shelf, part=wrong, quantity=1, said=said())
    assert StockMovement.objects.count() == before + 2


def test_a_kit_with_the_wrong_fuse_is_not_handed_out_at_all(door: DoorUnit) -> None:
    seal, wrong = make_part(part_number="A-SEAL"), fuse(WRONG[0])
    shelf = stocked(part=seal, pieces=3)
    stocked(place=shelf, part=wrong, pieces=3)
    kit = PartKit.objects.create(code="K", name="Short repaired")
    for part in (seal, wrong):
        PartKitLine.objects.create(kit=kit, part=part, quantity=1)
    before = StockMovement.objects.count()
    with pytest.raises(StockRefusedError, match="25 A"):
        issue_kit(place=shelf, kit=kit, said=said(), door=door)
    assert StockMovement.objects.count() == before


def use(door: DoorUnit, part: Part) -> None:
    use_parts(
        door=door,
        parts=[PartUse(part=part, quantity=1)],
        used_at=NOW - timedelta(hours=1),
        at_cycles=None,
        entered_at=NOW,
        entered_by=None,
    )


def test_the_wrong_fuse_is_not_written_down_as_fitted(door: DoorUnit) -> None:
    with pytest.raises(FaultRefusedError, match="25 A") as refused:
        use(door, fuse(WRONG[0]))
    assert refused.value.field == "parts"
    assert not PartUsed.objects.exists()
    use(door, fuse())
    used = PartUsed.objects.get()
    correction = Correction(reason="Mixed up", entered_at=NOW, entered_by=None)
    with pytest.raises(CorrectionRefusedError, match="glass fuse"):
        correct_part_used(used=used, part=fuse(WRONG[2]), quantity=1, correction=correction)
    assert PartUsed.objects.get() == used
