"""The planner sends a fleet folder, sees what it would change, and confirms."""

import json
import zipfile
from io import BytesIO
from pathlib import Path

import pytest
from django.conf import settings as django_settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from kombu import Connection
from pytest_django.fixtures import Settings

from fleetdoors.models import DoorUnit, Role, User
from inspections.services.fleet_folder.tables import TABLES
from inspections.services.fleet_folder.uploads import folder_of
from inspections.tasks import work_on_folder
from tests.factories import make_depot, make_user
from tests.inspections.fleet_folders import PLAIN

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]


@pytest.fixture(autouse=True)
def data_folder(tmp_path: Path, settings) -> Path:
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


def signed_in(user: User | None = None) -> Client:
    client = Client(enforce_csrf_checks=False)
    client.force_login(user or make_user(role=Role.PLANNER))
    return client


def archive(tables: dict[str, str]) -> SimpleUploadedFile:
    stream = BytesIO()
    with zipfile.ZipFile(stream, "w") as zipped:
        for name, text in tables.items():
            zipped.writestr(f"{name}.csv", text)
    return SimpleUploadedFile("fleet.zip", stream.getvalue())


def send(client: Client, *files: SimpleUploadedFile):
    return client.post(reverse("fleet-import"), {"upload": list(files)})


def test_upload_look_confirm(tmp_path: Path) -> None:
    client = signed_in()
    answer = send(client, archive(PLAIN))
    assert answer.status_code == 302
    preview = client.get(answer.url)
    assert "What would this folder change?" in preview.content.decode()
    assert DoorUnit.objects.count() == 0
    token = answer.url.split("/")[2]
    done = client.post(reverse("fleet-import-confirm", args=[token]))
    assert "What was brought in?" in done.content.decode()
    assert DoorUnit.objects.count() == 2
    again = client.get(answer.url).content.decode()
    assert "What was brought in?" in again
    assert "Bring it in" not in again


def test_csv_files_sent_together() -> None:
    client = signed_in()
    files = [SimpleUploadedFile(f"{name}.csv", text.encode()) for name, text in PLAIN.items()]
    answer = send(client, *files)
    assert answer.status_code == 302
    client.post(reverse("fleet-import-confirm", args=[answer.url.split("/")[2]]))
    assert DoorUnit.objects.count() == 2


def test_every_error_stands_on_the_page_and_nothing_can_be_confirmed() -> None:
    client = signed_in()
    wrong = PLAIN | {"stock": PLAIN["stock"] + "NORTH,<b>P</b>,-1,0,2026-03-02\n"}
    answer = send(client, archive(wrong))
    page = client.get(answer.url).content.decode()
    assert "What is wrong with this folder?" in page
    assert "&lt;b&gt;P&lt;/b&gt;" in page
    assert "must not be negative" in page
    assert "Bring it in" not in page
    token = answer.url.split("/")[2]
    refused = client.post(reverse("fleet-import-confirm", args=[token]))
    assert "What is wrong with this folder?" in refused.content.decode()
    assert DoorUnit.objects.count() == 0
    errors = client.get(reverse("fleet-import-errors", args=[token])).content.decode()
    assert errors.splitlines()[0] == "file,row,column,value,rule"
    assert "stock.csv,3,on_hand,'-1,must not be negative" in errors


@pytest.mark.parametrize(
    "files",
    [
        [],
        [SimpleUploadedFile("fleet.txt", b"x")],
        [SimpleUploadedFile("a.zip", b"x"), SimpleUploadedFile("b.zip", b"x")],
        [SimpleUploadedFile("a.csv", b"x"), SimpleUploadedFile("b.zip", b"x")],
        [SimpleUploadedFile("depots.csv", b"")],
    ],
)
def test_what_is_no_upload_is_explained(files: list[SimpleUploadedFile]) -> None:
    answer = send(signed_in(), *files)
    assert answer.status_code == 200
    assert "Please look at this again" in answer.content.decode()


def test_a_file_that_only_claims_to_be_an_archive_is_explained() -> None:
    client = signed_in()
    answer = send(client, SimpleUploadedFile("fleet.zip", b"no archive"))
    assert "is not a readable zip archive" in client.get(answer.url).content.decode()


def test_80_megabytes_are_turned_away_kindly(data_folder: Path) -> None:
    client = signed_in()
    large = SimpleUploadedFile("fleet.zip", b"\0" * 80 * 1024 * 1024)
    answer = send(client, large)
    assert answer.status_code == 413
    assert "larger than the 50 MB that a browser may send" in answer.content.decode()
    assert not (data_folder / "imports").exists()


def test_an_upload_without_its_csrf_token_is_refused() -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(make_user(role=Role.PLANNER))
    assert send(client, archive(PLAIN)).status_code == 403


def test_an_upload_belongs_to_who_sent_it_and_goes_with_the_next(data_folder: Path) -> None:
    client = signed_in()
    first = send(client, archive(PLAIN)).url
    assert signed_in().get(first).status_code == 404
    second = send(client, archive(PLAIN)).url
    assert client.get(first).status_code == 404
    assert client.get(second).status_code == 200
    assert len(list((data_folder / "imports").iterdir())) == 1


@pytest.mark.parametrize("token", ["..", "short", "../../../../etc", "a" * 64])
def test_a_made_up_token_leads_nowhere(token: str) -> None:
    client = signed_in()
    assert client.get(f"/import/{token}/").status_code == 404


def test_names_of_uploaded_files_stay_in_their_folder(data_folder: Path) -> None:
    client = signed_in()
    send(client, SimpleUploadedFile("../../../evil.csv", b"x\n"))
    assert not list(data_folder.rglob("../evil.csv"))
    assert {path.name for path in (data_folder / "imports").rglob("*.csv")} == {"evil.csv"}


PAGES = ["fleet-import", "fleet-template", "fleet-export"]


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("role", list(Role))
def test_who_may_come_here(name: str, role: Role) -> None:
    status = signed_in(make_user(role=role)).get(reverse(name)).status_code
    assert status == (200 if role in (Role.PLANNER, Role.ADMINISTRATOR) else 403)


@pytest.mark.parametrize("name", PAGES)
def test_a_planner_of_some_depots_gets_no_other_depots_data(name: str) -> None:
    planner = make_user(role=Role.PLANNER, depots=[make_depot()])
    assert signed_in(planner).get(reverse(name)).status_code == 403


@pytest.mark.parametrize("name", PAGES)
def test_strangers_are_sent_to_sign_in(name: str) -> None:
    answer = Client().get(reverse(name))
    assert answer.status_code == 302
    assert answer.url.startswith(reverse(django_settings.LOGIN_URL))


def test_the_export_and_the_template_are_archives(tmp_path: Path) -> None:
    client = signed_in()
    client.post(
        reverse("fleet-import-confirm", args=[send(client, archive(PLAIN)).url.split("/")[2]])
    )
    for name in ("fleet-export", "fleet-template"):
        content = b"".join(client.get(reverse(name)).streaming_content)
        names = zipfile.ZipFile(BytesIO(content)).namelist()
        assert {name.removesuffix(".csv") for name in names} <= set(TABLES)
        assert "readings.csv" in names
    assert send(client, SimpleUploadedFile("fleet.zip", content)).status_code == 302


@pytest.fixture
def beside_the_request(monkeypatch: pytest.MonkeyPatch) -> None:
    """No folder is small enough to wait for, and no page waits."""
    monkeypatch.setattr("inspections.tasks.WHILE_WAITING_BYTES", -1)
    monkeypatch.setattr("inspections.services.fleet_folder.beside.WAIT_SECONDS", 0.0)


@pytest.mark.usefixtures("beside_the_request")
def test_a_large_folder_is_checked_and_brought_in_beside_the_requests() -> None:
    client = signed_in()
    url = send(client, archive(PLAIN)).url
    token = url.split("/")[2]
    page = client.get(url).content.decode()
    assert "What is in this folder?" in page
    assert "Waiting for a worker" in page
    assert f'http-equiv="refresh" content="3; url={url}"' in page
    poll = reverse("fleet-work-progress", args=[token])
    assert "Waiting for a worker" in client.get(poll, {"of": "check"}).content.decode()
    assert work_on_folder(token, "check")
    assert client.get(poll, {"of": "check"}).headers["HX-Redirect"] == url
    assert "What would this folder change?" in client.get(url).content.decode()
    asked = client.post(reverse("fleet-import-confirm", args=[token])).content.decode()
    assert "How far is the folder?" in asked
    assert DoorUnit.objects.count() == 0
    assert "How far is the folder?" in client.get(url).content.decode(), "left and come back"
    assert work_on_folder(token, "import")
    assert "What was brought in?" in client.get(url).content.decode()
    assert DoorUnit.objects.count() == 2


@pytest.mark.usefixtures("beside_the_request")
def test_work_that_came_to_a_stop_says_so_and_is_begun_again() -> None:
    client = signed_in()
    token = send(client, archive(PLAIN)).url.split("/")[2]
    confirm = reverse("fleet-import-confirm", args=[token])
    client.post(confirm)
    state = folder_of(token) / "import.json"
    long_ago = json.loads(state.read_text()) | {"asked_at": 1.0}
    state.write_text(json.dumps(long_ago))
    poll = reverse("fleet-work-progress", args=[token])
    assert "It came to a stop." in client.get(poll, {"of": "import"}).content.decode()
    assert "Waiting for a worker" in client.post(confirm, {"again": "import"}).content.decode()
    assert work_on_folder(token, "import")
    assert DoorUnit.objects.count() == 2


def test_progress_of_what_nobody_asked_for_is_not_there() -> None:
    client = signed_in()
    token = send(client, archive(PLAIN)).url.split("/")[2]
    poll = reverse("fleet-work-progress", args=[token])
    for work in ("import", "export", "nothing"):
        assert client.get(poll, {"of": work}).status_code == 404
    assert client.get(reverse("fleet-export-made", args=[token])).status_code == 404
    assert client.get(reverse("fleet-export-file", args=[token])).status_code == 404


@pytest.mark.usefixtures("beside_the_request")
def test_a_large_fleet_is_written_out_beside_the_requests(monkeypatch: pytest.MonkeyPatch) -> None:
    client = signed_in()
    token = send(client, archive(PLAIN)).url.split("/")[2]
    client.post(reverse("fleet-import-confirm", args=[token]))
    work_on_folder(token, "import")
    monkeypatch.setattr("inspections.services.fleet_folder.exporting.LARGE_READINGS", 1)
    answer = client.get(reverse("fleet-export"))
    assert answer.status_code == 302
    out = answer.url.split("/")[2]
    assert "Waiting for a worker" in client.get(answer.url).content.decode()
    work_on_folder(out, "export")
    poll = client.get(reverse("fleet-work-progress", args=[out]), {"of": "export"})
    assert poll.headers["HX-Redirect"] == answer.url
    link = reverse("fleet-export-file", args=[out])
    assert f'href="{link}"' in client.get(answer.url).content.decode()
    with zipfile.ZipFile(BytesIO(b"".join(client.get(link).streaming_content))) as zipped:
        assert zipped.read("doors.csv").count(b"\n") == 3
    assert signed_in().get(link).status_code == 404, "another person's"


def test_a_queue_that_is_away_keeps_no_folder_out(
    settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    # In tests a task is done at once, without a broker: what asks for one is done here by hand.
    nobody = Connection(settings.REDIS_URL)

    def ask(*work: str) -> None:
        asked.append(work)
        nobody.ensure_connection(max_retries=1, interval_start=0)

    asked: list[tuple[str, ...]] = []
    monkeypatch.setattr(work_on_folder, "delay", ask)
    client = signed_in()
    url = send(client, archive(PLAIN)).url
    assert "What would this folder change?" in client.get(url).content.decode()
    client.post(reverse("fleet-import-confirm", args=[url.split("/")[2]]))
    assert DoorUnit.objects.count() == 2
    assert [work for _token, work in asked] == ["check", "import"]
