"""The code on a door's label: every slip that people make most is noticed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetdoors.models import DoorUnit
from inspections.door_code import ALPHABET, LENGTH, DoorCodeError, code_for, read_code, spoken
from inspections.models import DoorLabel
from inspections.services import labels
from inspections.services.labels import issue_label, issue_labels
from tests.factories import NOW, make_door, make_loose_door

serials = st.text(min_size=1, max_size=30)


@given(serials)
def test_a_code_reads_back_as_typed_in_any_way(serial: str) -> None:
    code = code_for(serial)
    assert len(code) == LENGTH
    assert set(code) <= set(ALPHABET)
    assert read_code(spoken(code)) == read_code(f" {code.lower()} ") == code


@given(serials, st.integers(0, LENGTH - 1))
def test_every_single_wrong_character_is_noticed(serial: str, place: int) -> None:
    code = code_for(serial)
    for other in set(ALPHABET) - {code[place]}:
        with pytest.raises(DoorCodeError, match="wrong"):
            read_code(code[:place] + other + code[place + 1 :])


@given(serials)
def test_every_swap_of_neighbours_is_noticed(serial: str) -> None:
    code = code_for(serial)
    for place in range(LENGTH - 1):
        left, right = code[place], code[place + 1]
        if left != right:
            with pytest.raises(DoorCodeError, match="swapped"):
                read_code(code[:place] + right + left + code[place + 2 :])


@pytest.mark.parametrize("typed", ["", "ABC", "ABC-DEFGH", "OIL0000", "ABC DEé"])
def test_what_was_never_printed_is_refused(typed: str) -> None:
    with pytest.raises(DoorCodeError, match="7 characters"):
        read_code(typed)


@pytest.mark.django_db
def test_a_door_keeps_its_code_when_its_serial_changes() -> None:
    door = make_door(serial="R-1")
    first = issue_label(door=door, issued_at=NOW)
    DoorUnit.objects.filter(pk=door.pk).update(serial="R-2")
    assert issue_label(door=door, issued_at=NOW) == first
    assert DoorLabel.objects.count() == 1


@pytest.mark.django_db
def test_two_serials_that_fall_together_get_two_codes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(labels, "code_for", lambda _serial, attempt: code_for("same", attempt))
    codes = {issue_label(door=make_loose_door(), issued_at=NOW).code for _each in range(3)}
    assert len(codes) == 3


@pytest.mark.django_db
def test_labels_are_issued_to_doors_without_one() -> None:
    doors = [make_loose_door() for _each in range(3)]
    issue_label(door=doors[0], issued_at=NOW)
    assert issue_labels(doors=doors, issued_at=NOW) == 2
    assert issue_labels(doors=doors, issued_at=NOW) == 0
