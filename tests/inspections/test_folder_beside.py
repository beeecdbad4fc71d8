"""Work on a folder beside the requests: what stands in its file while it runs, and at its end."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from pytest_django.fixtures import Settings

from fleetdoors.models import DoorUnit
from inspections.services.fleet_folder import beside
from inspections.services.fleet_folder.beside import (
    SILENCE,
    Standing,
    Teller,
    Work,
    do_work,
    note_asked,
    standing_of,
)
from inspections.services.fleet_folder.importing import import_fleet
from inspections.services.fleet_folder.uploads import content_of, folder_of, keep_room, keep_upload
from tests.inspections.fleet_folders import NOW, PLAIN

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]


@pytest.fixture(autouse=True)
def uploads(tmp_path: Path, settings: Settings) -> None:
    settings.MEDIA_ROOT = tmp_path


def kept(tables: dict[str, str] = PLAIN) -> str:
    files = [SimpleUploadedFile(f"{name}.csv", text.encode()) for name, text in tables.items()]
    return keep_upload(files=files, owner_id=1, now=NOW)


def asked(token: str, work: Work, language: str = "en") -> bool:
    return note_asked(token, work, now=NOW, language=language)


def standing(token: str, work: Work) -> Standing:
    found = standing_of(token, work)
    assert found is not None
    return found


def test_a_check_tells_what_an_import_then_does() -> None:
    token = kept()
    assert asked(token, Work.CHECK)
    assert do_work(token, Work.CHECK, now=NOW)
    checked = standing(token, Work.CHECK)
    assert checked.is_ended
    assert not DoorUnit.objects.exists()
    assert asked(token, Work.IMPORT)
    assert do_work(token, Work.IMPORT, now=NOW)
    assert standing(token, Work.IMPORT).report.counts == checked.report.counts
    assert DoorUnit.objects.count() == 2


def test_every_problem_is_found_again_in_the_file() -> None:
    token = kept(PLAIN | {"stock": PLAIN["stock"] + "NORTH,P9,-1,0,2026-03-02\n"})
    asked(token, Work.CHECK)
    do_work(token, Work.CHECK, now=NOW)
    told = standing(token, Work.CHECK).report
    assert told.refused
    direct = import_fleet(content_of(token), now=NOW)
    assert list(told.problems) == list(direct.problems)
    assert len(told.problems) == len(direct.problems) > 0
    assert told.problems.shown() == direct.problems.shown()


def test_words_are_in_the_language_of_who_asked() -> None:
    token = kept(PLAIN | {"stock": PLAIN["stock"] + "NORTH,P9,-1,0,2026-03-02\n"})
    asked(token, Work.CHECK, "es")
    do_work(token, Work.CHECK, now=NOW)
    rules = [each.rule for each in standing(token, Work.CHECK).report.problems]
    assert rules
    assert all("must" not in rule for rule in rules)


def test_work_that_is_under_way_or_done_is_not_begun_twice() -> None:
    token = kept()
    assert not do_work(token, Work.IMPORT, now=NOW), "nobody asked"
    assert asked(token, Work.IMPORT)
    assert not asked(token, Work.IMPORT)
    assert do_work(token, Work.IMPORT, now=NOW)
    assert not do_work(token, Work.IMPORT, now=NOW)
    assert not asked(token, Work.IMPORT)


def test_a_check_is_repeated_once_the_record_may_have_gone_on() -> None:
    token = kept()
    asked(token, Work.CHECK)
    do_work(token, Work.CHECK, now=NOW)
    ended = standing(token, Work.CHECK)
    assert not asked(token, Work.CHECK)
    beside._write(token, Work.CHECK, replace_ended(ended, NOW.timestamp() - 601))
    assert asked(token, Work.CHECK)


def replace_ended(found: Standing, at: float) -> Standing:
    return Standing(**(vars(found) | {"ended_at": at}))


def test_silence_is_a_stop_and_may_be_begun_again() -> None:
    token = kept()
    asked(token, Work.IMPORT)
    assert not standing(token, Work.IMPORT).is_stopped(NOW + SILENCE)
    late = NOW + SILENCE + timedelta(seconds=1)
    assert standing(token, Work.IMPORT).is_stopped(late)
    assert note_asked(token, Work.IMPORT, now=late, language="en")
    assert not standing(token, Work.IMPORT).is_stopped(late)


def test_a_failure_leaves_nothing_and_may_be_begun_again(monkeypatch: pytest.MonkeyPatch) -> None:
    token = kept()
    asked(token, Work.IMPORT)

    def breaks(*_path: object, **_rest: object) -> None:
        raise OSError("no room")

    with monkeypatch.context() as broken:
        broken.setattr(beside, "import_fleet", breaks)
        with pytest.raises(OSError, match="no room"):
            do_work(token, Work.IMPORT, now=NOW)
    assert standing(token, Work.IMPORT).is_stopped(NOW)
    assert not DoorUnit.objects.exists()
    assert asked(token, Work.IMPORT)
    assert do_work(token, Work.IMPORT, now=NOW)
    assert DoorUnit.objects.count() == 2


def test_how_far_it_is_stands_in_the_file_at_each_stage() -> None:
    token = kept()
    asked(token, Work.CHECK)
    teller = Teller(token, Work.CHECK, standing(token, Work.CHECK))
    with teller.telling():
        teller.begin("readings", 200)
        assert (standing(token, Work.CHECK).label, standing(token, Work.CHECK).total) == (
            "readings",
            200,
        )
        teller.advance(50)
        teller.advance(30)
        teller._tell()
        assert standing(token, Work.CHECK).done == 80
    assert standing(token, Work.CHECK).heard_at > 0
    assert not list(folder_of(token).glob("check.*-*")), "no half file stays"


def test_a_folder_written_out_can_be_brought_in(tmp_path: Path) -> None:
    token = kept()
    asked(token, Work.IMPORT)
    do_work(token, Work.IMPORT, now=NOW)
    out = keep_room(owner_id=1, now=NOW)
    asked(out, Work.EXPORT)
    do_work(out, Work.EXPORT, now=NOW)
    assert standing(out, Work.EXPORT).is_ended
    [written] = folder_of(out).glob("*.zip")
    assert import_fleet(written, now=NOW).changes_nothing
