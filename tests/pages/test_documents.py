"""Documents of a door type: who puts them there, what is taken for one, and what stays of it."""

from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleetdoors.models import DoorModel, Role
from inspections.models import Attachment
from inspections.services import documents as service
from inspections.services.attachments import AttachmentRefusedError, Received
from tests.factories import NOW, make_depot, make_door, make_user
from tests.truck_factories import make_visit

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
PDF = b"%PDF-1.4\n1 0 obj<<>>endobj\ntrailer<<>>\n%%EOF\n"


@pytest.fixture(autouse=True)
def own_uploads(settings, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


def signed_in(role: Role = Role.PLANNER, **facts) -> Client:
    client = Client()
    client.force_login(make_user(role=role, **facts))
    return client


def sent(client: Client, address: str, content: bytes = PDF, title: str = "Wiring sheet"):
    file = SimpleUploadedFile("../../sheet.exe", content, content_type="text/html")
    return client.post(address, {"title": title, "file": file})


def kept(door_model: DoorModel, content: bytes = PDF, title: str = "Manual", **more) -> Attachment:
    received = Received(taken_at=NOW, entered_at=NOW, entered_by=make_user(role=Role.PLANNER))
    return service.add_document(
        door_model=door_model, title=title, content=content, received=received, **more
    )


def test_a_planner_puts_a_pdf_where_every_door_of_the_type_has_it(own_uploads: Path) -> None:
    door = make_door()
    response = sent(signed_in(), reverse("document-new", args=[door.door_model.code]))
    assert response.status_code == 302
    document = Attachment.objects.get()
    assert (document.door_model, document.title) == (door.door_model, "Wiring sheet")
    assert own_uploads in Path(document.file.path).parents
    assert Path(document.file.name).name == f"{document.sha256}.pdf"
    shelf = reverse("document-list", args=[door.door_model.code])
    address = reverse("document-file", args=[document.pk])
    buyer = signed_in(Role.BUYER)
    assert address in buyer.get(shelf).content.decode()
    assert shelf in buyer.get(reverse("door-detail", args=[door.serial])).content.decode()
    technician = signed_in(Role.TECHNICIAN)
    visit = make_visit(door=door)
    assert address in technician.get(reverse("visit-detail", args=[visit.pk])).content.decode()


def test_a_document_is_served_as_a_pdf_and_nothing_else() -> None:
    document = kept(make_door().door_model)
    address = reverse("document-file", args=[document.pk])
    response = signed_in(Role.BUYER).get(address)
    assert b"".join(response.streaming_content) == PDF
    assert response["Content-Type"] == "application/pdf"
    assert response["X-Content-Type-Options"] == "nosniff"
    assert response["Content-Security-Policy"].startswith("default-src 'none'")
    assert "private" in response["Cache-Control"]
    assert 'filename="Manual.pdf"' in response["Content-Disposition"]
    assert Client().get(address).url.startswith(reverse("sign-in"))


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"<html>%%EOF", "does not begin and end like one"),
        (PDF[:-8], "does not begin and end like one"),
        (b"MZ" + b"\x00" * 1100 + PDF, "does not begin and end like one"),
        (PDF + b"\x00" * service.DOCUMENT_LIMIT_BYTES, "at most 25 MB"),
    ],
)
def test_what_is_no_whole_pdf_is_not_kept(content: bytes, says: str) -> None:
    door_model = make_door().door_model
    response = sent(signed_in(), reverse("document-new", args=[door_model.code]), content)
    assert response.status_code == 200
    assert says in response.content.decode()
    assert not Attachment.objects.exists()


def test_a_newer_one_takes_its_place_and_the_older_stays_to_be_read() -> None:
    door_model = make_door().door_model
    old = kept(door_model)
    client = signed_in()
    address = reverse("document-replace", args=[old.pk])
    assert 'value="Manual"' in client.get(address).content.decode()
    assert sent(client, address, PDF + b"% second issue\n%%EOF").status_code == 302
    old.refresh_from_db()
    new = Attachment.objects.get(replaces=old)
    assert old.withdrawn_at is not None
    assert list(Attachment.objects.documents_of(door_model)) == [new]
    page = client.get(reverse("document-list", args=[door_model.code])).content.decode()
    assert "replaced by a newer one" in page
    assert client.get(reverse("document-file", args=[old.pk])).status_code == 200
    assert client.get(address).status_code == 404
    with pytest.raises(AttachmentRefusedError, match="gave way before"):
        kept(door_model, PDF + b"% third\n%%EOF", replaces=old)


def test_a_document_withdrawn_stays_on_record_with_its_reason() -> None:
    document = kept(make_door().door_model)
    client = signed_in()
    address = reverse("document-withdraw", args=[document.pk])
    assert client.get(address).status_code == 200
    assert client.post(address, {"reason": ""}).status_code == 200
    assert client.post(address, {"reason": "wrong door type"}).status_code == 302
    document.refresh_from_db()
    assert document.withdrawal_reason == "wrong door type"
    again = service.withdraw_document(
        document=document, reason="twice", withdrawn_at=timezone.now(), withdrawn_by=make_user()
    )
    assert again.withdrawal_reason == "wrong door type"
    shelf = reverse("document-list", args=[document.door_model.code])
    assert "No document yet" in client.get(shelf).content.decode()


def test_the_same_document_twice_is_one() -> None:
    door_model = make_door().door_model
    assert kept(door_model) == kept(door_model, title="Manual again")


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.BUYER])
def test_only_planners_change_the_shelf(role: Role) -> None:
    document = kept(make_door().door_model)
    client = signed_in(role)
    for name in ("document-replace", "document-withdraw"):
        assert client.get(reverse(name, args=[document.pk])).status_code == 403
    assert client.get(reverse("document-new", args=[document.door_model.code])).status_code == 403
    assert (
        "Replace it"
        not in client.get(
            reverse("document-list", args=[document.door_model.code])
        ).content.decode()
    )


def test_a_file_that_went_missing_is_not_found_and_no_error(own_uploads: Path) -> None:
    document = kept(make_door().door_model)
    Path(document.file.path).unlink()
    assert signed_in().get(reverse("document-file", args=[document.pk])).status_code == 404


def test_the_phone_keeps_the_documents_of_its_doors() -> None:
    depot = make_depot()
    door = make_door(depot=depot)
    document = kept(door.door_model)
    too_large = kept(door.door_model, b"%PDF-" + b"0" * (9 * 2**20) + b"%%EOF", title="Atlas")
    gone = kept(door.door_model, PDF + b"%%EOF")
    service.withdraw_document(
        document=gone, reason="old", withdrawn_at=NOW, withdrawn_by=make_user()
    )
    technician = signed_in(Role.TECHNICIAN, depots=[depot])
    pages = {
        each["url"]: each["mark"] for each in technician.get(reverse("round-data")).json()["pages"]
    }
    assert pages[reverse("document-file", args=[document.pk])].endswith(document.sha256)
    for other in (too_large, gone):
        assert reverse("document-file", args=[other.pk]) not in pages
