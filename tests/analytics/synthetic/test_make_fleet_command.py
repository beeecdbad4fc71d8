"""make_fleet as a stranger types it: help, exit status, and what it prints."""

from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command, get_commands, load_command_class

from analytics.synthetic.scenario import SCENARIOS

SMALL = ["--doors", "20", "--days", "60", "--seed", "1"]


def exit_status(*arguments: str) -> int:
    """Exit status of the command line, as manage.py would give it."""
    command = load_command_class(get_commands()["make_fleet"], "make_fleet")
    try:
        command.run_from_argv(["manage.py", "make_fleet", *arguments])
    except SystemExit as stop:
        return int(stop.code or 0)
    return 0


def test_makes_a_folder_and_says_what(tmp_path: Path) -> None:
    out = StringIO()
    call_command("make_fleet", str(tmp_path / "fleet"), *SMALL, stdout=out)
    assert (tmp_path / "fleet" / "readings.csv").exists()
    assert (tmp_path / "fleet" / "truth" / "lives.csv").exists()
    assert "20 doors" in out.getvalue()
    assert "Traceback" not in out.getvalue()


def test_done_is_0(tmp_path: Path) -> None:
    assert exit_status(str(tmp_path / "fleet"), *SMALL) == 0


def test_a_folder_in_use_is_refused_with_1_and_left_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "mine.txt").write_text("keep")
    assert exit_status(str(tmp_path), *SMALL) == 1
    assert f"{tmp_path} must be a new or empty folder" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]
    assert exit_status(str(tmp_path / "mine.txt"), *SMALL) == 1


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        (["--doors", "0", "--days", "60", "--seed", "1"], "doors must be at least 1; 0 is not"),
        (["--doors", "5", "--days", "3", "--seed", "1"], "days must be at least 30; 3 is not"),
        (["--doors", "5", "--days", "60"], "--seed"),
        ([*SMALL, "--scenario", "gloomy"], "gloomy"),
        ([*SMALL, "--until", "31/12/2026"], "31/12/2026"),
        ([*SMALL, "--readings-per-door", "61"], "readings_per_door must be between 1 and days"),
    ],
)
def test_wrong_usage_is_2_and_says_why(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], wrong: list[str], told: str
) -> None:
    assert exit_status(str(tmp_path / "fleet"), *wrong) == 2
    assert told in capsys.readouterr().err
    assert not (tmp_path / "fleet").exists()


def test_help_tells_a_stranger_enough(capsys: pytest.CaptureFixture[str]) -> None:
    assert exit_status("--help") == 0
    told = capsys.readouterr().out
    assert all(name in told for name in SCENARIOS)
    assert "invented" in told
    assert "Example: python manage.py make_fleet" in told


def test_caller_in_python_gets_the_reason(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("keep")
    with pytest.raises(CommandError, match="new or empty"):
        call_command("make_fleet", str(tmp_path), *SMALL)
