"""What happened."""

from inspections.models.attachment import Attachment
from inspections.models.cause_share import CauseShare
from inspections.models.counter_reading import CounterReading, ReadingStatus, Source
from inspections.models.defect_report import DefectReport, DefectState, DefectStep
from inspections.models.device_entry import DeviceEntry, EntryOutcome
from inspections.models.door_label import DoorLabel
from inspections.models.fault import Fault
from inspections.models.fault_trace import AnswerKind, FaultTrace, TraceAnswer
from inspections.models.final_check import FinalCheck
from inspections.models.follow_up import FollowUp
from inspections.models.inspection import Inspection, InspectionKind
from inspections.models.measurement import Judgement, Measurement
from inspections.models.part_used import PartUsed
from inspections.models.repair import Cause, Mechanism, Repair
from inspections.models.road_hold import HoldReason, RoadHold
from inspections.models.safety_tick import SafetyTick, Tick
from inspections.models.spring_authorisation import SpringAuthorisation
from inspections.models.stock_count import StockCount
from inspections.models.task_done import TaskDone
from inspections.models.visit import (
    JobKind,
    JobOutcome,
    Visit,
    VisitHandover,
    VisitJob,
    VisitState,
)

__all__ = [
    "AnswerKind",
    "Attachment",
    "Cause",
    "CounterReading",
    "DefectReport",
    "DefectState",
    "DefectStep",
    "DeviceEntry",
    "DoorLabel",
    "EntryOutcome",
    "Fault",
    "FaultTrace",
    "FinalCheck",
    "FollowUp",
    "HoldReason",
    "Inspection",
    "InspectionKind",
    "JobKind",
    "JobOutcome",
    "Judgement",
    "Measurement",
    "Mechanism",
    "PartUsed",
    "ReadingStatus",
    "Repair",
    "RoadHold",
    "SafetyTick",
    "Source",
    "SpringAuthorisation",
    "StockCount",
    "TaskDone",
    "Tick",
    "TraceAnswer",
    "Visit",
    "VisitHandover",
    "CauseShare",
    "VisitJob",
    "VisitState",
]
