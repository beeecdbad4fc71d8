"""Small fleet folders for tests: a plain one, and ways to change it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from inspections.services.fleet_folder.importing import Report, check_fleet, import_fleet

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)

PLAIN = {
    "depots": "depot,name,timezone,setting\nNORTH,North yard,America/Chicago,salt+cold\n",
    "trucks": "truck,depot,route_kind,in_service_on\nT1,NORTH,parcel,2024-01-01\nT2,NORTH,,\n",
    "door_models": "door_model,counter_digits,counts_per_cycle\nM5,5,1\n",
    "parts": "part,name,component,unit_cost,fits\nP-CON,Converter 32 V,converter,120.50,M5\n",
    "doors": "door,door_model,truck,mounted_on,record_from\n"
    "D1,M5,T1,2024-02-01,2024-02-01\nD2,M5,T2,2024-02-01,2024-02-01\n",
    "readings": "door,read_at,counter_value,read_by,source\n"
    "D1,2026-03-01T07:40,1200,Ada,hand\nD1,2026-04-01T07:40,2400,Ada,hand\n"
    "D2,2026-03-01T07:40,900,,\n",
    "fitments": "door,component,position,part,fitted_on,fitted_at_cycles\n"
    "D1,converter,,P-CON,2024-02-01,0\n",
    "faults": "door,found_at,component,mode,complaint,is_failure\n"
    "D1,2026-03-05T09:00,converter,FM07,S3,yes\nD1,2026-03-05T09:00,converter,FM07,S3,yes\n",
    "parts_used": "door,used_at,part,quantity,depot\nD1,2026-03-05T10:00,P-CON,1,NORTH\n",
    "tasks_done": "door,task,done_at,at_cycles,done_by\nD1,LUB,2026-03-02,1210,Ada\n",
    "stock": "depot,part,on_hand,on_order,counted_on\nNORTH,P-CON,4,2,2026-03-01\n",
}


def write_folder(folder: Path, tables: dict[str, str]) -> Path:
    """A folder with these tables."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in tables.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


def bring_in(folder: Path, tables: dict[str, str], now: datetime = NOW) -> Report:
    """Import these tables, which must be right."""
    report = import_fleet(write_folder(folder, tables), now=now)
    assert not report.refused, [str(problem) for problem in report.problems]
    return report


def complaints(folder: Path, tables: dict[str, str]) -> list[tuple[str, int | None, str, str]]:
    """File, row, column and value of every problem of these tables."""
    report = check_fleet(write_folder(folder, tables), now=NOW)
    return [(each.file, each.row, each.column, each.value) for each in report.problems]


def rules(folder: Path, tables: dict[str, str]) -> str:
    """Every rule that these tables break, in one text."""
    report = check_fleet(write_folder(folder, tables), now=NOW)
    return "\n".join(each.rule for each in report.problems)


def counts(report: Report) -> dict[str, tuple[int, int, int, int]]:
    """New, changed, corrected and unchanged rows by table."""
    return {
        each.table: (each.new, each.changed, each.corrected, each.unchanged)
        for each in report.counts
    }
