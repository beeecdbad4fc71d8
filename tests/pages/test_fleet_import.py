"""The planner sends a fleet folder, sees what it would change, and confirms."""

import zipfile
from io import BytesIO
from pathlib import Path

import pytest
from django.conf import settings as django_settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from fleetdoors.models import DoorUnit, Role, User
from inspections.services.fleet_folder.tables import TABLES
from tests.factories import make_depot, make_user
from tests.inspections.fleet_folders import PLAIN

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]


@pytest.fixture(autouse=True)
def data_folder(tmp_path: Path, settings) -> Path:
    settings.DATA_DIR = tmp_path
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
    assert "nothing changes" in again
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
