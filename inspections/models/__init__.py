"""What happened."""

from inspections.models.counter_reading import CounterReading, ReadingStatus, Source
from inspections.models.fault import Fault
from inspections.models.part_used import PartUsed
from inspections.models.stock_count import StockCount
from inspections.models.task_done import TaskDone

__all__ = [
    "CounterReading",
    "Fault",
    "PartUsed",
    "ReadingStatus",
    "Source",
    "StockCount",
    "TaskDone",
]
