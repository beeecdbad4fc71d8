"""Files that mean harm: pictures that unfold, text that turns into formulas, names that climb."""

from __future__ import annotations

import csv
import io
import struct
import zipfile
import zlib
from decimal import Decimal
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from openpyxl import Workbook, load_workbook
from PIL import Image

from fleetdoors.models import Role
from inspections.forms.defect import DefectForm
from inspections.models import Attachment
from inspections.picture_size import picture_size
from inspections.services.attachments import (
    AttachmentRefusedError,
    Received,
    keep_photo,
)
from inspections.services.fleet_folder.errors import Problems, SourceRefusedError
from inspections.services.fleet_folder.limits import BROWSER_LIMITS
from inspections.services.fleet_folder.sources import Source
from inspections.services.fleet_folder.uploads import keep_upload, kept_upload
from tests.factories import NOW, make_depot, make_door, make_part, make_truck, make_user
from tests.pages.planner_rows import make_due, make_figures, make_outlook, make_run
from tests.stock_factories import make_order, make_supplier
from tests.truck_factories import make_defect_report

FORMULAS = ('=HYPERLINK("http://x","y")', "+1+1", "-1+1", "@SUM(A1)", "\t=1+1")
MOST_SIDE = 60_000


def png(width: int, height: int) -> bytes:
    """A true PNG of one colour: a few bytes, however large."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IEND", b"")


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP"])
@pytest.mark.parametrize("options", [{}, {"progressive": True, "lossless": True}])
@pytest.mark.parametrize("mode", ["RGB", "L"])
def test_the_size_of_a_picture_is_that_of_another_reader(
    kind: str, options: dict[str, bool], mode: str
) -> None:
    """Against Pillow, which wrote the files."""
    file = io.BytesIO()
    Image.new(mode, (317, 211)).save(file, kind, exif=b"Exif\x00\x00" + b"x" * 900, **options)
    assert picture_size(file.getvalue()) == (317, 211)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\xff\xd8",
        b"\xff\xd8\xff\xe0\x00",
        b"\x89PNG\r\n\x1a\n",
        b"RIFF....WEBPVP8X",
        b"GIF89a",
    ],
)
def test_a_head_that_says_nothing_has_no_size(content: bytes) -> None:
    assert picture_size(content) is None


@pytest.mark.django_db
def test_a_picture_that_unfolds_to_billions_of_pixels_is_refused() -> None:
    report, received = make_defect_report(), Received(taken_at=NOW, entered_at=NOW)
    bomb = png(MOST_SIDE, MOST_SIDE)
    assert len(bomb) < 100
    with pytest.raises(AttachmentRefusedError, match="unfolds to 3600"):
        keep_photo(shows=report, content=bomb, received=received)
    assert not Attachment.objects.exists()
    assert keep_photo(shows=report, content=png(8000, 6000), received=received).pk


def test_a_drivers_form_says_so_before_anything_is_kept() -> None:
    form = DefectForm(
        {}, {"photo": SimpleUploadedFile("a.png", png(MOST_SIDE, MOST_SIDE), "image/png")}
    )
    assert "megapixels" in str(form.errors["photo"])


@pytest.mark.parametrize("name", ["../../evil.csv", "/etc/evil.csv", "a/../../evil.csv"])
def test_the_name_of_an_upload_never_leads_outside(name: str) -> None:
    file = SimpleUploadedFile("depots.csv", b"code\nNORTH\n")
    file.__dict__["_name"] = name
    token = keep_upload(files=[file], owner_id=1, now=NOW)
    kept = kept_upload(token=token, owner_id=1)
    assert [each.name for each in kept.iterdir()] == ["evil.csv"]
    assert kept.parent.name == token


def swollen(path: Path, *, text: str) -> None:
    """A workbook whose sheet holds more XML than any table."""
    Workbook().save(path)
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/more.xml", text)


def test_a_workbook_that_unpacks_too_large(tmp_path: Path) -> None:
    path = tmp_path / "fleet.xlsx"
    swollen(path, text="0" * (BROWSER_LIMITS.unpacked_bytes // 64))
    limits = type(BROWSER_LIMITS)(unpacked_bytes=2**20, rows=10, files=200)
    with pytest.raises(SourceRefusedError, match="unpacks to"):
        Source(path, limits, Problems())
    assert path.stat().st_size < 2**20


def test_a_workbook_with_entities_within_entities(tmp_path: Path) -> None:
    laughs = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10 if n else "ha"}">' for n in range(10))
    path = tmp_path / "fleet.xlsx"
    swollen(path, text=f"<?xml version='1.0'?><!DOCTYPE x [{laughs}]><x>&l9;</x>")
    with pytest.raises(SourceRefusedError, match="document type"):
        Source(path, BROWSER_LIMITS, Problems())


def cells_of(content: bytes) -> list[str]:
    """The texts of a CSV file or of a workbook; a formula among them fails."""
    if not content.startswith(b"PK"):
        rows = csv.reader(io.StringIO(content.decode("utf-8-sig")))
        return [cell for row in rows for cell in row]
    cells = [cell for row in load_workbook(io.BytesIO(content)).worksheets[0] for cell in row]
    assert [cell.value for cell in cells if cell.data_type == "f"] == []
    return [str(cell.value) for cell in cells]


@pytest.mark.django_db
@pytest.mark.usefixtures("stopped")
@pytest.mark.parametrize("formula", FORMULAS)
def test_no_export_hands_out_a_formula(client: Client, formula: str) -> None:
    depot, run = make_depot(), make_run()
    door = make_door(truck=make_truck(fleet_number=formula, depot=depot))
    make_figures(run=run, door=door)
    make_due(run=run, door=door)
    part = make_part(name=formula, part_number=f"{formula}1", unit_cost=Decimal(3))
    make_outlook(run=run, part=part, depot=depot, suggested_order=4)
    supplier = make_supplier()
    supplier.name = supplier.customer_number = formula
    supplier.save()
    order = make_order(depot=depot, wanted={part: 2}, supplier=supplier)
    client.force_login(make_user(role=Role.ADMINISTRATOR))
    plain = [reverse(name) for name in ("due-csv", "due-workbook", "part-csv", "budget-workbook")]
    of_order = [reverse(name, args=[order.number]) for name in ("order-csv", "order-workbook")]
    for url in (*plain, *of_order):
        answer = client.get(url)
        assert answer.status_code == 200
        content = b"".join(answer) if answer.streaming else answer.content
        held = [cell for cell in cells_of(content) if formula.strip() in cell]
        assert held or "budget" in url, f"{url} does not hold the text at all"
        if not content.startswith(b"PK"):
            assert {cell[0] for cell in held} == {"'"}, url


@pytest.fixture
def stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
