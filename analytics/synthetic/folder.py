"""Writes a made fleet as a fleet folder, with its truth in the folder `truth` inside it."""

from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from analytics.synthetic import record_fleet, record_work, stock, truth
from analytics.synthetic.codes import BlockCodes
from analytics.synthetic.csvout import CsvTable
from analytics.synthetic.fleet import FleetPlan, Frame, make_block, make_frame
from analytics.synthetic.layout import TABLES, TRUTH_TABLES, Kind
from analytics.synthetic.names import PARTS, REVISED_PARTS

TRUTH = "truth"


class FolderNotEmptyError(Exception):
    """The folder already holds something."""


@dataclass(frozen=True)
class FleetCounts:
    """Rows written, by table; truth tables under `truth/`."""

    rows: dict[str, int]


class FleetFolder:
    """The open tables of a fleet folder and of its truth."""

    def __init__(self, folder: Path, plan: FleetPlan, stack: ExitStack) -> None:
        weeks = plan.dates(truth.week_days(plan)).astype(str).tolist()
        weekly: dict[str, Kind] = {"door": "text", **dict.fromkeys(weeks, "int")}
        self.tables = {
            name: stack.enter_context(CsvTable(folder / f"{name}.csv", columns))
            for name, columns in TABLES.items()
        }
        self.truth = {
            name: stack.enter_context(CsvTable(folder / TRUTH / f"{name}.csv", columns))
            for name, columns in (TRUTH_TABLES | {"weekly_cycles": weekly}).items()
        }

    def write_frame(self, plan: FleetPlan, frame: Frame) -> None:
        """Write what is not of single doors: depots, models, catalogue, stock, parameters."""
        revised = plan.world.revision_from_share < 1
        parts = (*PARTS, *REVISED_PARTS) if revised else PARTS
        self.tables["depots"].append(stock.depot_rows(frame.depots))
        self.tables["door_models"].append(stock.model_rows())
        self.tables["parts"].append(stock.part_rows(parts))
        self.tables["stock"].append(stock.stock_rows(plan, frame, parts))
        self.truth["plan"].append(truth.plan_truth(plan))
        self.truth["components"].append(truth.component_truth(plan))

    def write_block(self, codes: BlockCodes, frame: Frame) -> None:
        """Write what one block of doors adds to every table."""
        days, horizon = codes.plan.days, codes.plan.horizon
        self.tables["trucks"].append(record_fleet.truck_rows(codes))
        self.tables["doors"].append(record_fleet.door_rows(codes))
        self.tables["mountings"].append(record_fleet.mounting_rows(codes))
        self.tables["lay_ups"].append(record_fleet.lay_up_rows(codes))
        self.tables["counters"].append(record_fleet.counter_rows(codes))
        self.tables["readings"].append(record_fleet.reading_rows(codes))
        self.tables["fitments"].append(record_work.fitment_rows(codes))
        self.tables["faults"].append(record_work.fault_rows(codes))
        self.tables["parts_used"].append(record_work.part_used_rows(codes, 0, days))
        self.tables["tasks_done"].append(record_work.task_rows(codes))
        self.truth["doors"].append(truth.door_truth(codes))
        self.truth["lives"].append(truth.life_truth(codes, 0, days))
        self.truth["future_lives"].append(truth.life_truth(codes, days, horizon))
        self.truth["future_parts_used"].append(truth.future_parts_truth(codes))
        self.truth["weekly_cycles"].append(truth.weekly_truth(codes))
        self.truth["counter_faults"].append(truth.counter_fault_truth(codes))
        self.truth["route_changes"].append(truth.route_change_truth(codes))
        self.truth["shocks"].append(truth.shock_truth(codes, frame))

    def counts(self) -> FleetCounts:
        recorded = {name: table.rows for name, table in self.tables.items()}
        true = {f"{TRUTH}/{name}": table.rows for name, table in self.truth.items()}
        return FleetCounts(recorded | true)


def write_fleet(
    folder: Path, plan: FleetPlan, *, on_block: Callable[[int], None] | None = None
) -> FleetCounts:
    """Make the planned fleet block by block into an empty or new folder.

    `on_block` is told the number of doors of each block once it is written.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise FolderNotEmptyError(f"{folder} must be a new or empty folder; it is not.")
    (folder / TRUTH).mkdir(parents=True, exist_ok=True)
    (folder / TRUTH / "README.txt").write_text(truth.README, encoding="utf-8")
    frame = make_frame(plan)
    with ExitStack() as stack:
        tables = FleetFolder(folder, plan, stack)
        tables.write_frame(plan, frame)
        for index in range(plan.blocks):
            block = make_block(plan, frame, index)
            tables.write_block(BlockCodes(plan, frame, block), frame)
            if on_block is not None:
                on_block(len(block.doors))
        return tables.counts()
