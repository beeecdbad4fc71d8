"""What is coming, and the fuses that door models call for, go along in a fleet folder."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from pytest_django import DjangoCaptureOnCommitCallbacks
from pytest_django.fixtures import Settings

from fleetdoors.models import FusePosition
from inspections.models import AnnouncedChange
from inspections.services.announced_changes import cancel_announced
from inspections.services.fleet_folder.exporting import export_fleet
from inspections.services.fleet_folder.importing import check_fleet, import_fleet
from tests.announced_factories import make_campaign, make_new_trucks, make_other_use
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door_model,
    make_fuse_position,
    make_part,
    make_user,
)
from tests.inspections.fleet_folders import NOW as FOLDERS_NOW
from tests.inspections.fleet_folders import PLAIN, bring_in, write_folder
from tests.inspections.test_fleet_folder_linked import rewritten
from tests.inspections.test_fleet_folder_round_trip import empty_the_database, goes_round

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
HEAD = "row,kind,depot,from_on,entered_at,note,"
SAID = f"1,%s,NORTH,2026-12-01,{FOLDERS_NOW:%Y-%m-%dT%H:%M},letter,"


def said_of(folder: Path, tables: dict[str, str]) -> dict[tuple[int | None, str], str]:
    """The rule that each cell of these tables breaks, by row and column."""
    problems = check_fleet(write_folder(folder, tables), now=FOLDERS_NOW).problems
    return {(each.row, each.column): each.rule for each in problems}


def all_kinds() -> None:
    """Each kind of change, one of them cancelled, at a depot with a clock of its own."""
    kim, depot = make_user(), make_depot(code="OSL", timezone="Europe/Oslo")
    make_new_trucks(depot=depot, door_model=make_door_model(code="M5"), by=kim)
    make_other_use(factor=0.5, in_days=30)
    cancelled = make_other_use(depot=depot, route_kind="=urban", factor=1.25, days=60)
    cancel_announced(change=cancelled, reason="they stayed", at=NOW, by=kim)
    old, new = (
        make_part(part_number=f"SPR-{each}", component=component("spring")) for each in "AB"
    )
    make_campaign(depot=depot, part=old, new_part=new)


def test_what_is_announced_goes_round(tmp_path: Path) -> None:
    all_kinds()
    before = list(AnnouncedChange.objects.values_list("kind", "from_on", "until_on", "factor"))
    files = goes_round(tmp_path)
    # The moment stands on the depot's own clock.
    assert ",OSL,2026-11-25," in files["announced_changes.csv"].decode()
    assert "2026-11-23T13:00," in files["announced_changes.csv"].decode()
    after = AnnouncedChange.objects.values_list("kind", "from_on", "until_on", "factor")
    assert list(after) == before
    cancelled = AnnouncedChange.objects.get(cancelled_at__isnull=False)
    assert (cancelled.route_kind, cancelled.cancelled_because) == ("=urban", "they stayed")
    assert (cancelled.cancelled_at, cancelled.cancelled_by is not None) == (NOW, True)
    campaign = AnnouncedChange.objects.get(kind="campaign")
    assert (campaign.part.part_number, campaign.new_part.part_number) == ("SPR-A", "SPR-B")
    assert AnnouncedChange.objects.filter(depot=None).get().factor == 0.5


def test_forecasts_are_asked_for_when_something_new_is_coming(
    tmp_path: Path,
    settings: Settings,
    monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    asked: list[str] = []
    monkeypatch.setattr("tests.recompute_requests.keep_outlooks", lambda: asked.append("asked"))
    settings.RECOMPUTE_OUTLOOKS = "tests.recompute_requests.keep_outlooks"
    make_other_use()
    export_fleet(tmp_path / "fleet")
    with django_capture_on_commit_callbacks(execute=True):
        import_fleet(tmp_path / "fleet", now=NOW)
    assert asked == []
    empty_the_database()
    with django_capture_on_commit_callbacks(execute=True):
        import_fleet(tmp_path / "fleet", now=NOW)
    assert asked == ["asked"]


@pytest.mark.parametrize(
    ("columns", "row", "column", "says"),
    [
        ("factor", SAID % "use" + "6", "factor", "between 0.1 and 5"),
        ("factor", SAID % "use", "factor", "must not be empty where what is coming is: use"),
        ("doors", SAID % "trucks" + "4", "cycles_per_day", "where what is coming is: trucks"),
        ("doors,cycles_per_day", SAID % "trucks" + "0,40", "doors", "between 1"),
        ("until_on", SAID % "campaign" + "2026-12-31", "new_part", "coming is: campaign"),
        ("factor,until_on", SAID % "use" + "2,2026-11-01", "until_on", "not be before from_on"),
        ("factor,cancelled_at", SAID % "use" + f"2,{FOLDERS_NOW:%Y-%m-%dT%H:%M}",
         "cancelled_because", "needs its reason"),
        ("factor", SAID % "snow" + "2", "kind", "unknown code; known are: trucks, use, campaign"),
        ("factor", (SAID % "use").replace("NORTH", "SOUTH") + "2", "depot", "neither in"),
        ("factor", (SAID % "use").replace("letter", "") + "2", "note", "must not be empty"),
        ("factor,door_model", SAID % "use" + "2,M99", "door_model", "neither in"),
    ],
)  # fmt: skip
def test_a_change_that_tells_too_little_is_refused(
    tmp_path: Path, columns: str, row: str, column: str, says: str
) -> None:
    bring_in(tmp_path / "plain", PLAIN)
    table = {"announced_changes": f"{HEAD}{columns}\n{row}\n"}
    assert says in said_of(tmp_path / "wrong", table)[2, column]
    assert not AnnouncedChange.objects.exists()


def test_fuses_of_positions_go_round(tmp_path: Path) -> None:
    model = make_door_model(code="M5")
    make_fuse_position(door_model=model, position="board", kind="=blade fuse", amps=7.5)
    make_fuse_position(door_model=make_door_model(code="M6"))
    files = goes_round(tmp_path)
    text = files["fuse_positions.csv"].decode()
    assert "M5,board,'=blade fuse,7.5,58\n" in text
    assert "M6,,blade fuse,20,58\n" in text
    assert FusePosition.objects.get(position="board").kind == "=blade fuse"


def test_another_fuse_takes_the_place_of_the_one_before(tmp_path: Path) -> None:
    make_fuse_position(door_model=make_door_model(code="M5"), amps=20.0)
    export_fleet(tmp_path / "fleet")
    rewritten(tmp_path / "fleet", "fuse_positions", amps="25")
    report = import_fleet(tmp_path / "fleet", now=NOW + timedelta(days=1))
    assert not report.refused
    assert FusePosition.objects.get().amps == 25.0


@pytest.mark.parametrize(
    ("row", "column", "says"),
    [
        ("M5,,blade fuse,0,58", "amps", "between 0.1"),
        ("M5,,blade fuse,20,", "volts", "must not be empty"),
        ("M5,,,20,58", "kind", "must not be empty"),
        ("M9,,blade fuse,20,58", "door_model", "neither in"),
        ("M5,,blade fuse,20,58\nM5,,blade fuse,25,58", "door_model", "row 2 is the same"),
    ],
)
def test_a_fuse_that_is_not_told_in_full_is_refused(
    tmp_path: Path, row: str, column: str, says: str
) -> None:
    bring_in(tmp_path / "plain", PLAIN)
    table = {"fuse_positions": f"door_model,position,kind,amps,volts\n{row}\n"}
    assert says in " ".join(said_of(tmp_path / "wrong", table).values())
    assert column in {name for _row, name in said_of(tmp_path / "again", table)}
    assert not FusePosition.objects.exists()
