"""Identity, corrections and words on counter readings."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from inspections.models import CounterReading
from inspections.services.fleet_folder.importing import check_fleet
from tests.inspections.fleet_folders import NOW, PLAIN, bring_in, counts, rules, write_folder

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
HEAD = "door,read_at,counter_value\n"
WORDS = "door,read_at,counter_value,status,corrected_value\n"


@pytest.fixture
def fleet(tmp_path: Path) -> Path:
    bring_in(tmp_path / "fleet", PLAIN)
    return tmp_path


def in_force() -> CounterReading:
    return CounterReading.objects.in_force().get(
        door__serial="D1", read_at=datetime(2026, 3, 1, 13, 40, tzinfo=UTC)
    )


def readings(folder: Path, text: str, now: datetime = NOW):
    return counts(bring_in(folder / "more", {"readings": text}, now=now))["readings"]


def test_the_same_reading_twice_in_a_file_is_one(fleet: Path) -> None:
    row = "D1,2026-06-01T07:40,3000\n"
    assert readings(fleet, HEAD + row + row) == (1, 0, 0, 1)


def test_two_values_for_one_moment_in_a_file_are_an_error(fleet: Path) -> None:
    text = HEAD + "D1,2026-06-01T07:40,3000\nD2,2026-06-01T07:40,5\nD1,2026-06-01T07:40,3001\n"
    report = check_fleet(write_folder(fleet / "two", {"readings": text}), now=NOW)
    (problem,) = report.problems
    assert (problem.file, problem.row, problem.value) == ("readings.csv", 4, "3001")
    assert "row 2 has another value" in problem.rule


def test_one_moment_written_in_two_ways_is_one_moment(fleet: Path) -> None:
    assert readings(fleet, HEAD + "D1,2026-03-01T13:40Z,1200\n") == (0, 0, 0, 1)
    assert readings(fleet, HEAD + "D1,2026-03-01T08:40:00-05:00,1200\n") == (0, 0, 0, 1)


def test_another_value_is_a_correction_with_history(fleet: Path) -> None:
    text = HEAD + "D1,2026-03-01T07:40,1210\n"
    assert readings(fleet, text) == (0, 0, 1, 0)
    new = in_force()
    assert (new.counter_value, new.corrects.counter_value) == (1210, 1200)
    assert new.entered_at == new.corrects.superseded_at == NOW
    assert new.ruling == ""
    assert readings(fleet, text) == (0, 0, 0, 1)


def test_a_value_that_was_corrected_since_changes_nothing(fleet: Path) -> None:
    readings(fleet, HEAD + "D1,2026-03-01T07:40,1210\n")
    assert readings(fleet, HEAD + "D1,2026-03-01T07:40,1200\n") == (0, 0, 0, 1)
    assert in_force().counter_value == 1210


def test_a_correction_is_known_from_the_entry_that_the_file_names(fleet: Path) -> None:
    text = "door,read_at,counter_value,entered_at\nD1,2026-03-01T07:40,1210,2026-03-09T10:00\n"
    readings(fleet, text)
    assert in_force().entered_at == datetime(2026, 3, 9, 15, 0, tzinfo=UTC)


def test_a_counter_lower_than_before_is_taken_in(fleet: Path) -> None:
    assert readings(fleet, HEAD + "D1,2026-05-01T07:40,7\n") == (1, 0, 0, 0)


def test_held_and_accepted_are_a_persons_word_where_no_ruling_is_given(fleet: Path) -> None:
    rows = "D1,2026-06-01T07:40,10,held,\nD1,2026-06-02T07:40,90000,accepted,\n"
    readings(fleet, WORDS + rows)
    words = CounterReading.objects.filter(read_at__month=6).order_by("read_at")
    assert list(words.values_list("ruling", "status")) == [
        ("held", "held"),
        ("accepted", "accepted"),
    ]


def test_a_ruling_column_tells_a_person_from_the_check(fleet: Path) -> None:
    rows = (
        "door,read_at,counter_value,status,ruling\n"
        "D1,2026-06-01T07:40,10,held,\nD1,2026-06-02T07:40,3000,held,accepted\n"
    )
    readings(fleet, rows)
    words = CounterReading.objects.filter(read_at__month=6).order_by("read_at")
    assert list(words.values_list("ruling", "status")) == [("", "held"), ("accepted", "accepted")]


def test_a_word_is_taken_for_a_reading_that_nobody_ruled_on(fleet: Path) -> None:
    hold = WORDS + "D1,2026-03-01T07:40,1200,held,\n"
    assert readings(fleet, hold) == (0, 1, 0, 0)
    assert (in_force().ruling, in_force().status) == ("held", "held")
    assert readings(fleet, hold) == (0, 0, 0, 1)
    # A person has spoken: an older file does not overrule that.
    accept = WORDS + "D1,2026-03-01T07:40,1200,accepted,\n"
    assert readings(fleet, accept) == (0, 0, 0, 1)
    assert in_force().ruling == "held"


def test_saying_accepted_of_what_is_accepted_changes_nothing(fleet: Path) -> None:
    assert readings(fleet, WORDS + "D1,2026-03-01T07:40,1200,accepted,\n") == (0, 0, 0, 1)
    assert in_force().ruling == ""


def test_a_corrected_reading_comes_with_its_history(fleet: Path) -> None:
    text = WORDS + "D1,2026-06-01T07:40,5000,corrected,500\n"
    assert readings(fleet, text) == (1, 0, 0, 0)
    new = CounterReading.objects.in_force().get(read_at__month=6)
    assert (new.counter_value, new.ruling) == (500, "accepted")
    assert (new.corrects.counter_value, new.corrects.superseded_at) == (5000, new.entered_at)
    assert readings(fleet, text) == (0, 0, 0, 1)
    assert readings(fleet, HEAD + "D1,2026-06-01T07:40,5000\n") == (0, 0, 0, 1)
    assert readings(fleet, HEAD + "D1,2026-06-01T07:40,500\n") == (0, 0, 0, 1)


def test_a_correction_has_its_own_moment(fleet: Path) -> None:
    text = (
        "door,read_at,counter_value,status,corrected_value,corrected_at\n"
        "D1,2026-06-01T07:40,5000,corrected,500,2026-06-20T07:40\n"
    )
    readings(fleet, text)
    early = datetime(2026, 6, 10, tzinfo=UTC)
    seen = CounterReading.objects.entered_before(early).filter(read_at__month=6)
    assert [reading.counter_value for reading in seen] == [5000]
    later = datetime(2026, 7, 1, tzinfo=UTC)
    seen = CounterReading.objects.entered_before(later).filter(read_at__month=6)
    assert [reading.counter_value for reading in seen] == [500]


def test_a_chain_of_corrections_is_kept_whole(fleet: Path) -> None:
    text = (
        "door,read_at,counter_value,status,corrected_value,corrected_at,entered_at\n"
        "D1,2026-06-01T07:40,1,corrected,2,2026-06-02T00:00,2026-06-01T07:40\n"
        "D1,2026-06-01T07:40,2,corrected,1,2026-06-03T00:00,2026-06-02T00:00\n"
    )
    assert readings(fleet, text) == (2, 0, 0, 0)
    newest = CounterReading.objects.in_force().get(read_at__month=6)
    chain = [newest, newest.corrects, newest.corrects.corrects]
    assert [reading.counter_value for reading in chain] == [1, 2, 1]
    assert readings(fleet, text) == (0, 0, 0, 2)


def test_a_stored_reading_is_corrected_by_a_persons_word(fleet: Path) -> None:
    text = WORDS + "D1,2026-03-01T07:40,1200,corrected,120\n"
    assert readings(fleet, text) == (0, 0, 1, 0)
    assert (in_force().counter_value, in_force().ruling) == (120, "accepted")
    assert readings(fleet, text) == (0, 0, 0, 1)


def test_corrected_needs_a_value_and_a_value_needs_corrected(fleet: Path) -> None:
    text = WORDS + "D1,2026-06-01T07:40,5,corrected,\nD1,2026-06-02T07:40,5,held,6\n"
    said = rules(fleet / "words", {"readings": text})
    assert said.splitlines() == ["a corrected reading needs it", "needs the status corrected"]


@pytest.mark.parametrize(
    ("written", "utc"),
    [
        # Clocks went back in Chicago on 1 November 2026 at 2:00: 1:30 happened twice.
        ("2026-11-01T01:30", datetime(2026, 11, 1, 6, 30, tzinfo=UTC)),
        ("2026-11-01T01:30-06:00", datetime(2026, 11, 1, 7, 30, tzinfo=UTC)),
        # They went forward on 8 March 2026 at 2:00: 2:30 never happened, and counts as 3:30.
        ("2026-03-08T02:30", datetime(2026, 3, 8, 8, 30, tzinfo=UTC)),
        ("2026-03-08 02:30:15.5", datetime(2026, 3, 8, 8, 30, 15, 500000, tzinfo=UTC)),
    ],
)
def test_hours_that_happen_twice_or_never(fleet: Path, written: str, utc: datetime) -> None:
    readings(fleet, HEAD + f"D1,{written},4000\n")
    assert CounterReading.objects.get(counter_value=4000).read_at == utc
    assert readings(fleet, HEAD + f"D1,{written},4000\n") == (0, 0, 0, 1)
