"""Folders, archives and workbooks: what is read, and what is turned away."""

import io
import zipfile
from datetime import datetime
from pathlib import Path

import openpyxl
import pytest

from fleetdoors.models import Depot, DoorUnit
from inspections.models import CounterReading
from inspections.services.fleet_folder import archives
from inspections.services.fleet_folder.importing import check_fleet, import_fleet
from inspections.services.fleet_folder.limits import MEBIBYTE, Limits
from tests.inspections.fleet_folders import NOW, PLAIN, bring_in, counts

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
DEPOTS = {"depots": "depot,name\nA,Yard\n"}
SMALL = Limits(unpacked_bytes=MEBIBYTE, rows=100, files=5)


def zipped(path: Path, tables: dict[str, str], prefix: str = "") -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in tables.items():
            archive.writestr(f"{prefix}{name}.csv", text)
    return path


def workbook(path: Path, tables: dict[str, str]) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, text in tables.items():
        sheet = book.create_sheet(name)
        for line in text.splitlines():
            sheet.append([_typed(cell) for cell in line.split(",")])
    book.save(path)
    return path


def _typed(cell: str) -> object:
    """What a person would type: a number, a day and a moment become such cells."""
    if cell.isdigit():
        return int(cell)
    try:
        return datetime.fromisoformat(cell)
    except ValueError:
        return cell or None


def first_rule(path: Path, limits: Limits = SMALL) -> str:
    report = check_fleet(path, now=NOW, limits=limits)
    assert report.refused
    return next(iter(report.problems)).rule


@pytest.mark.parametrize("prefix", ["", "fleet/"])
def test_an_archive_of_a_folder(tmp_path: Path, prefix: str) -> None:
    path = zipped(tmp_path / "fleet.zip", PLAIN, prefix)
    report = import_fleet(path, now=NOW)
    assert not report.refused
    assert counts(report)["readings"] == (3, 0, 0, 0)
    assert bring_in(tmp_path / "folder", PLAIN).changes_nothing


def test_a_workbook_says_the_same_as_a_folder(tmp_path: Path) -> None:
    report = import_fleet(workbook(tmp_path / "fleet.xlsx", PLAIN), now=NOW)
    assert not report.refused, [str(problem) for problem in report.problems]
    assert bring_in(tmp_path / "folder", PLAIN).changes_nothing


def test_folders_below_and_other_files_are_not_looked_at(tmp_path: Path) -> None:
    (tmp_path / "truth").mkdir()
    (tmp_path / "truth" / "lives.csv").write_text("nonsense")
    (tmp_path / "README.txt").write_text("about")
    assert counts(bring_in(tmp_path, DEPOTS)) == {"depots": (1, 0, 0, 0)}
    path = zipped(tmp_path / "fleet.zip", DEPOTS | {"truth/lives": "nonsense\n"})
    assert not check_fleet(path, now=NOW).refused


def test_a_stray_table_is_an_error_that_lists_the_known_ones(tmp_path: Path) -> None:
    path = zipped(tmp_path / "fleet.zip", DEPOTS | {"vans": "van\n1\n"})
    assert first_rule(path).startswith("unknown table; known are: ")
    assert ", depots, " in first_rule(path).replace("are: ", "are: , ")


@pytest.mark.parametrize("name", ["missing", "empty", "fleet.txt", "broken.zip", "broken.xlsx"])
def test_what_is_no_fleet_folder_at_all(tmp_path: Path, name: str) -> None:
    (tmp_path / "empty").mkdir()
    for file in ("fleet.txt", "broken.zip", "broken.xlsx"):
        (tmp_path / file).write_text("no such thing")
    expected = {
        "missing": "there is no such file or folder",
        "empty": "holds no table",
        "fleet.txt": "must be a folder, a .zip archive or an .xlsx workbook",
        "broken.zip": "is not a readable zip archive",
        "broken.xlsx": "is not a readable zip archive",
    }
    assert first_rule(tmp_path / name).startswith(expected[name])


@pytest.mark.parametrize("name", ["../depots.csv", "/etc/depots.csv", "a/../../b.csv", "C:\\x.csv"])
def test_an_archive_that_would_reach_outside(tmp_path: Path, name: str) -> None:
    path = tmp_path / "fleet.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr(name, "depot\nA\n")
    assert "would lie outside the folder" in first_rule(path)


def test_an_archive_that_unpacks_too_large(tmp_path: Path) -> None:
    path = zipped(tmp_path / "fleet.zip", {"depots": "depot\n" + "0" * 2 * MEBIBYTE})
    assert path.stat().st_size < 10_000
    assert first_rule(path) == "unpacks to 2 MB; at most 1 MB are read"


def test_an_archive_that_lies_about_its_size(tmp_path: Path, monkeypatch) -> None:
    path = zipped(tmp_path / "fleet.zip", {"depots": "depot,name\n" + "A,b\n" * 300_000})
    monkeypatch.setattr(archives, "_check_contents", lambda *_: None)
    assert first_rule(path, Limits(MEBIBYTE, 1_000_000, 5)) == "is larger than 1 MB"


def test_an_archive_of_too_many_files(tmp_path: Path) -> None:
    path = zipped(tmp_path / "fleet.zip", {f"depots{number}": "depot\n" for number in range(9)})
    assert first_rule(path) == "holds 9 files; at most 5 are read"


def test_an_encrypted_archive(tmp_path: Path) -> None:
    path = zipped(tmp_path / "fleet.zip", DEPOTS)
    data = bytearray(path.read_bytes())
    # Bit 0 of the general purpose flags: in the local header at 6, in the directory at 8
    # (PKWARE APPNOTE 4.3.7, 4.3.12 and 4.4.4).
    data[6] |= 1
    data[data.index(b"PK\x01\x02") + 8] |= 1
    path.write_bytes(data)
    assert first_rule(path) == "is encrypted; unlock it first"


def test_an_archive_whose_content_is_damaged(tmp_path: Path) -> None:
    path = tmp_path / "fleet.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("depots.csv", "depot,name\nA,Yard\n")
    path.write_bytes(path.read_bytes().replace(b"A,Yard", b"B,Yard"))
    assert "cannot be read" in first_rule(path)
    assert not Depot.objects.exists()


def test_too_many_rows(tmp_path: Path) -> None:
    path = zipped(
        tmp_path / "fleet.zip", {"depots": "depot\n" + "".join(f"A{n}\n" for n in range(101))}
    )
    assert first_rule(path) == "more than 100 rows in all"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "the file is empty; a header row is required"),
        (b"\n\n", "the file is empty; a header row is required"),
        ("depot,name\nA,Müller\n".encode("latin-1"), "must be UTF-8 text"),
        ("depot,name\nA,Yard\n".encode("utf-16"), "is not UTF-8 but UTF-16"),
        (b"depot,name\nA,x\x00y\n", "without control characters"),
        (b'depot,name\nA,"never closed\n', "unexpected end of data"),
    ],
)
def test_files_that_are_no_proper_text(tmp_path: Path, content: bytes, words: str) -> None:
    (tmp_path / "depots.csv").write_bytes(content)
    assert words in first_rule(tmp_path)


def test_a_mark_of_utf_8_in_front_is_fine(tmp_path: Path) -> None:
    (tmp_path / "depots.csv").write_bytes(b"\xef\xbb\xbfdepot,name\r\nA,Yard\r\n")
    assert not import_fleet(tmp_path, now=NOW).refused
    assert Depot.objects.get().name == "Yard"


def test_a_value_that_is_no_text_can_still_be_shown(tmp_path: Path) -> None:
    (tmp_path / "depots.csv").write_bytes(b"depot,name\nA,M\xfcller\n")
    (problem,) = check_fleet(tmp_path, now=NOW).problems
    assert (problem.row, problem.column, problem.value) == (2, "name", "M\\udcfcller")


def test_a_workbook_with_formulas_counts_by_its_last_values(tmp_path: Path) -> None:
    import xlsxwriter

    path = tmp_path / "fleet.xlsx"
    with xlsxwriter.Workbook(str(path)) as book:
        sheet = book.add_worksheet("depots")
        sheet.write_row(0, 0, ["depot", "bay_hours_per_day"])
        sheet.write_string(1, 0, "A")
        sheet.write_formula(1, 1, "=4+4.5", None, 8.5)
    assert not import_fleet(path, now=NOW).refused
    assert Depot.objects.get().bay_hours_per_day == 8.5


def _repacked(path: Path, extra: dict[str, bytes]) -> Path:
    """The archive with members added or replaced."""
    old = zipfile.ZipFile(io.BytesIO(path.read_bytes()))
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            if name not in extra:
                new.writestr(name, old.read(name))
        for name, data in extra.items():
            new.writestr(name, data)
    return path


def test_a_workbook_with_macros(tmp_path: Path) -> None:
    path = _repacked(workbook(tmp_path / "f.xlsx", DEPOTS), {"xl/vbaProject.bin": b"macro"})
    assert first_rule(path, Limits(MEBIBYTE, 100, 50)) == "holds macros; save it without them"


@pytest.mark.parametrize("code", ["utf-8", "utf-16-le"])
def test_a_workbook_with_a_document_type(tmp_path: Path, code: str) -> None:
    evil = '<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "bbbb">]><a>&b;</a>'.encode(code)
    path = _repacked(workbook(tmp_path / "f.xlsx", DEPOTS), {"xl/sharedStrings.xml": evil})
    assert "document type" in first_rule(path, Limits(MEBIBYTE, 100, 50))


def test_a_sheet_with_far_too_many_columns(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.title = "depots"
    book.active.append(["depot"])
    book.active.cell(row=2, column=16_000, value="far out")
    book.save(tmp_path / "f.xlsx")
    report = import_fleet(tmp_path / "f.xlsx", now=NOW)
    assert not report.refused
    assert Depot.objects.count() == 0


def test_nothing_is_lost_when_an_import_breaks_half_way(tmp_path: Path, monkeypatch) -> None:
    def fail(*_args: object) -> None:
        raise RuntimeError("the disk is full")

    monkeypatch.setattr("inspections.services.fleet_folder.importing.write_readings", fail)
    with pytest.raises(RuntimeError):
        bring_in(tmp_path, PLAIN)
    assert DoorUnit.objects.count() == CounterReading.objects.count() == 0
