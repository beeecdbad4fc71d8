"""What we have."""

from fleetdoors.models.caution import Caution, SignalWord
from fleetdoors.models.component import Component, ComponentKind
from fleetdoors.models.counter import Counter
from fleetdoors.models.depot import Depot, Setting
from fleetdoors.models.door_model import DoorModel
from fleetdoors.models.door_unit import DoorUnit, Mounting
from fleetdoors.models.fitment import Fitment, Removal
from fleetdoors.models.fuse_position import FusePosition
from fleetdoors.models.machine_token import MachineToken
from fleetdoors.models.maintenance_task import (
    Duty,
    MaintenanceTask,
    Performer,
    SeverityFactor,
    TaskKind,
)
from fleetdoors.models.part import Part
from fleetdoors.models.part_alternate import PartAlternate
from fleetdoors.models.part_kit import PartKit, PartKitLine
from fleetdoors.models.task_change import TaskChange
from fleetdoors.models.task_kit import TaskKit
from fleetdoors.models.truck import LayUp, Truck, TruckDepot
from fleetdoors.models.user import Role, User
from fleetdoors.models.week_hours import (
    ClosedDay,
    DepotWeekday,
    PersonWeekday,
    TruckWeekday,
    Weekday,
)

__all__ = [
    "Caution",
    "ClosedDay",
    "Component",
    "ComponentKind",
    "Counter",
    "Depot",
    "DepotWeekday",
    "DoorModel",
    "DoorUnit",
    "Duty",
    "Fitment",
    "FusePosition",
    "LayUp",
    "MachineToken",
    "MaintenanceTask",
    "Mounting",
    "Part",
    "PartAlternate",
    "PartKit",
    "PartKitLine",
    "Performer",
    "PersonWeekday",
    "Removal",
    "Role",
    "Setting",
    "SeverityFactor",
    "SignalWord",
    "TaskChange",
    "TaskKind",
    "TaskKit",
    "Truck",
    "TruckDepot",
    "TruckWeekday",
    "User",
    "Weekday",
]
