"""The two commands: what they print, and the status they end with."""

import csv
import json
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from fleetdoors.models import DoorUnit
from tests.inspections.fleet_folders import PLAIN, write_folder

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
WRONG = PLAIN | {"readings": PLAIN["readings"] + "D1,2026-05-01,x,,\n" * 300}


def status_of(*arguments: str) -> int | str | None:
    with pytest.raises(SystemExit) as stopped:
        call_command(*arguments)
    return stopped.value.code


def test_an_import_says_what_it_did_and_then_that_nothing_changes(tmp_path: Path, capsys) -> None:
    folder = str(write_folder(tmp_path / "fleet", PLAIN))
    call_command("import_fleet", folder)
    said = capsys.readouterr().out.splitlines()
    assert said[0].split() == ["table", "read", "new", "changed", "corrected", "unchanged"]
    assert ["readings", "3", "3", "0", "0", "0"] in [line.split() for line in said]
    assert said[-1] == "Imported."
    call_command("import_fleet", folder)
    assert "nothing changes" in capsys.readouterr().out


def test_a_check_says_that_it_wrote_nothing(tmp_path: Path, capsys) -> None:
    call_command("import_fleet", str(write_folder(tmp_path / "fleet", PLAIN)), "--check")
    assert "Nothing was written: this was a check." in capsys.readouterr().out
    assert DoorUnit.objects.count() == 0


def test_a_refusal_ends_with_one_and_its_reasons(tmp_path: Path, capsys) -> None:
    folder = str(write_folder(tmp_path / "fleet", WRONG))
    assert status_of("import_fleet", folder) == 1
    said = capsys.readouterr().err
    assert "readings.csv, row 5, counter_value: must be a whole number (x)" in said
    assert "readings.csv: 100 more errors not shown" in said
    assert "Refused with 300 errors; nothing was written." in said


def test_a_refusal_as_json_holds_every_error(tmp_path: Path, capsys) -> None:
    folder = str(write_folder(tmp_path / "fleet", WRONG))
    assert status_of("import_fleet", folder, "--format", "json") == 1
    said = json.loads(capsys.readouterr().out)
    assert said["refused"] is True
    assert said["errors_total"] == len(said["errors"]) == 300
    assert said["errors"][0] == {
        "file": "readings.csv",
        "row": 5,
        "column": "counter_value",
        "value": "x",
        "rule": "must be a whole number",
    }


def test_every_error_can_be_written_to_a_file(tmp_path: Path) -> None:
    folder = str(write_folder(tmp_path / "fleet", WRONG))
    status_of("import_fleet", folder, "--errors", str(tmp_path / "errors.csv"))
    with (tmp_path / "errors.csv").open(newline="") as stream:
        rows = list(csv.reader(stream))
    assert len(rows) == 301
    assert rows[1] == ["readings.csv", "5", "counter_value", "x", "must be a whole number"]


def test_a_path_that_is_not_there_is_refused(tmp_path: Path, capsys) -> None:
    assert status_of("import_fleet", str(tmp_path / "nowhere")) == 1
    assert "there is no such file or folder" in capsys.readouterr().err


@pytest.mark.parametrize("arguments", [("import_fleet",), ("import_fleet", "a", "--format", "xml")])
def test_wrong_usage(arguments: tuple[str, ...]) -> None:
    with pytest.raises(CommandError):
        call_command(*arguments)


def test_an_export_says_what_it_wrote_and_never_overwrites(tmp_path: Path, capsys) -> None:
    call_command("import_fleet", str(write_folder(tmp_path / "fleet", PLAIN)))
    call_command("export_fleet", str(tmp_path / "out"))
    said = capsys.readouterr().out
    assert ["readings", "3"] in [line.split() for line in said.splitlines()]
    assert (tmp_path / "out" / "doors.csv").is_file()
    assert status_of("export_fleet", str(tmp_path / "out")) == 1
    assert "the folder is not empty" in capsys.readouterr().err
