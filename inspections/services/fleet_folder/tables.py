"""The tables of a fleet folder, in the order in which they are read and written."""

from inspections.services.fleet_folder.columns import Table
from inspections.services.fleet_folder.fleet_tables import (
    COMPONENTS,
    DEPOTS,
    DOOR_MODELS,
    DOORS,
    FUSE_POSITIONS,
    LAY_UPS,
    PARTS,
    SEVERITY_FACTORS,
    TASKS,
    TRUCK_DEPOTS,
    TRUCKS,
)
from inspections.services.fleet_folder.linked_tables import LINKED_TABLES
from inspections.services.fleet_folder.people_tables import PEOPLE
from inspections.services.fleet_folder.record_tables import (
    FAULTS,
    PARTS_USED,
    READINGS,
    STOCK,
    TASKS_DONE,
)
from inspections.services.fleet_folder.stay_tables import COUNTERS, FITMENTS, MOUNTINGS
from inspections.services.fleet_folder.supplier_tables import SUPPLIER_PRICES, SUPPLIERS

TABLES: dict[str, Table] = {
    table.name: table
    for table in (
        DEPOTS,
        PEOPLE,
        TRUCKS,
        TRUCK_DEPOTS,
        LAY_UPS,
        DOOR_MODELS,
        FUSE_POSITIONS,
        COMPONENTS,
        TASKS,
        SEVERITY_FACTORS,
        PARTS,
        SUPPLIERS,
        SUPPLIER_PRICES,
        DOORS,
        MOUNTINGS,
        COUNTERS,
        FITMENTS,
        READINGS,
        FAULTS,
        PARTS_USED,
        TASKS_DONE,
        STOCK,
        *LINKED_TABLES,
    )
}
