"""What happened."""

from inspections.models.announced_change import AnnouncedChange, AnnouncedKind
from inspections.models.attachment import Attachment
from inspections.models.cause_share import CauseShare
from inspections.models.counter_reading import CounterReading, ReadingStatus, Source
from inspections.models.defect_report import DefectReport, DefectState, DefectStep
from inspections.models.device_entry import DeviceEntry, EntryOutcome
from inspections.models.digest_choice import DigestChoice
from inspections.models.door_label import DoorLabel
from inspections.models.fault import Fault
from inspections.models.fault_trace import AnswerKind, FaultTrace, TraceAnswer
from inspections.models.final_check import FinalCheck
from inspections.models.follow_up import FollowUp
from inspections.models.inspection import Inspection, InspectionKind
from inspections.models.labour_rate import LabourRate
from inspections.models.last_look import LastLook
from inspections.models.letting_go import LettingGo
from inspections.models.machine_entry import MachineEntry
from inspections.models.measurement import Judgement, Measurement
from inspections.models.night_choice import NightChoice
from inspections.models.off_plan_reason import OffPlanCause, OffPlanKind, OffPlanReason
from inspections.models.one_off_check import OneOffCheck, OneOffLook
from inspections.models.order_receipt import ChargeKind, OrderCharge, OrderReceipt
from inspections.models.order_step import OrderStep, OrderStepKind
from inspections.models.outside_invoice import OutsideInvoice
from inspections.models.part_reservation import PartReservation
from inspections.models.part_return import (
    CLAIM_STEPS,
    ClaimKind,
    ClaimState,
    PartReturn,
    PartReturnStep,
)
from inspections.models.part_taken_back import PartTakenBack
from inspections.models.part_used import PartUsed
from inspections.models.phone_pin import PhonePin
from inspections.models.plan_acceptance import PlanAcceptance, PlanChange, PlanStep
from inspections.models.purchase_order import EXPECTED, OrderLine, OrderState, PurchaseOrder
from inspections.models.repair import Cause, Mechanism, Repair
from inspections.models.road_hold import HoldReason, RoadHold
from inspections.models.safety_tick import SafetyTick, Tick
from inspections.models.spring_authorisation import SpringAuthorisation
from inspections.models.stock_balance import StockBalance
from inspections.models.stock_count import StockCount
from inspections.models.stock_lot import StockLot
from inspections.models.stock_movement import (
    MAKES_KNOWN,
    AppendOnlyError,
    MovementKind,
    StockMovement,
)
from inspections.models.stock_place import FOR_WORK, PlaceKind, StockPlace
from inspections.models.stock_transfer import StockTransfer
from inspections.models.supplier import Supplier, SupplierPrice
from inspections.models.task_done import TaskDone
from inspections.models.visit import (
    JobKind,
    JobOutcome,
    Visit,
    VisitHandover,
    VisitJob,
    VisitState,
)
from inspections.models.visit_feed import VisitFeed
from inspections.models.visit_minutes import MOST_MINUTES, VisitMinutes

__all__ = [
    "CLAIM_STEPS",
    "EXPECTED",
    "FOR_WORK",
    "MAKES_KNOWN",
    "MOST_MINUTES",
    "AnnouncedChange",
    "AnnouncedKind",
    "AnswerKind",
    "AppendOnlyError",
    "Attachment",
    "Cause",
    "CauseShare",
    "ChargeKind",
    "ClaimKind",
    "ClaimState",
    "CounterReading",
    "DefectReport",
    "DefectState",
    "DefectStep",
    "DeviceEntry",
    "DigestChoice",
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
    "LabourRate",
    "LastLook",
    "LettingGo",
    "MachineEntry",
    "Measurement",
    "Mechanism",
    "MovementKind",
    "NightChoice",
    "OffPlanCause",
    "OffPlanKind",
    "OffPlanReason",
    "OneOffCheck",
    "OneOffLook",
    "OrderCharge",
    "OrderLine",
    "OrderReceipt",
    "OrderState",
    "OrderStep",
    "OrderStepKind",
    "OutsideInvoice",
    "PartReservation",
    "PartReturn",
    "PartReturnStep",
    "PartTakenBack",
    "PartUsed",
    "PhonePin",
    "PlaceKind",
    "PlanAcceptance",
    "PlanChange",
    "PlanStep",
    "PurchaseOrder",
    "ReadingStatus",
    "Repair",
    "RoadHold",
    "SafetyTick",
    "Source",
    "SpringAuthorisation",
    "StockBalance",
    "StockCount",
    "StockLot",
    "StockMovement",
    "StockPlace",
    "StockTransfer",
    "Supplier",
    "SupplierPrice",
    "TaskDone",
    "Tick",
    "TraceAnswer",
    "Visit",
    "VisitFeed",
    "VisitHandover",
    "VisitJob",
    "VisitMinutes",
    "VisitState",
]
