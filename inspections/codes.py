"""Fixed codes of the trade: what a driver reports, how a part fails, what was done."""

from dataclasses import dataclass

from django.db import models
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


class Complaint(models.TextChoices):
    """A defect in the driver's words."""

    S1 = "S1", _("nothing happens")
    S2 = "S2", _("remote does not work, a switch does")
    S3 = "S3", _("clicks or hums, no movement")
    S4 = "S4", _("slow, or stops part-way")
    S5 = "S5", _("will not close, or comes back up")
    S6 = "S6", _("will not open")
    S7 = "S7", _("runs on, or bangs at the end")
    S8 = "S8", _("heavy, drops, hangs crooked, or a bang was heard")
    S9 = "S9", _("door-ajar lamp is wrong")
    S10 = "S10", _("works only sometimes, or the fuse keeps blowing")
    S11 = "S11", _("noisy or rough")
    S12 = "S12", _("counter is wrong")
    S13 = "S13", _("moves by itself, or does not stop")


class DetectedBy(models.TextChoices):
    """Who or what found a fault."""

    DRIVER = "driver", _("driver")
    PREVENTIVE = "PM", _("preventive work")
    TECHNICIAN = "technician", _("technician, by chance")
    INSPECTION = "inspection", _("inspection")
    ROADSIDE = "roadside", _("on the road")


class Action(models.TextChoices):
    """What was done about a fault."""

    ADJUST = "adjust", _("adjusted")
    CLEAN = "clean", _("cleaned")
    LUBRICATE = "lubricate", _("lubricated")
    TIGHTEN = "tighten", _("tightened")
    REPAIR = "repair", _("repaired")
    REPLACE = "replace", _("replaced")
    PAIR = "pair", _("paired or programmed")
    INSPECT = "inspect", _("inspected only")
    NONE_FOUND = "none_found", _("no fault found")


@dataclass(frozen=True)
class FailureMode:
    """How a component fails, as observed."""

    code: str
    component: str
    name: Promise


_MODES = (
    ("FM01", "remote_battery", _("remote battery flat")),
    ("FM02", "remote", _("remote lost its pairing, broken or wet")),
    ("FM03", "receiver", _("receiver takes no signal")),
    ("FM04", "switch", _("switch contact open, wet or wire broken")),
    ("FM05", "supply_feed", _("battery low")),
    ("FM06", "supply_feed", _("feed, ground or main fuse poor")),
    ("FM07", "converter", _("converter does not boost")),
    ("FM08", "converter", _("converter dead")),
    ("FM09", "converter", _("converter weak under load")),
    ("FM10", "fuse", _("fuse open")),
    ("FM11", "fuse_holder", _("fuse holder hot or loose")),
    ("FM12", "control_board", _("board dark with good supply")),
    ("FM13", "control_board", _("board output stuck or burnt")),
    ("FM14", "coil_cable", _("coil cable conductor broken")),
    ("FM15", "coil_cable", _("coil cable chafed or shorted")),
    ("FM16", "coil_cable", _("coil cable does not retract")),
    ("FM17", "slider", _("slider stuck or broken")),
    ("FM18", "connector", _("connector corroded or pin pushed back")),
    ("FM19", "motor", _("motor winding open or brushes worn")),
    ("FM20", "motor", _("motor shorted, or motor or gear seized")),
    ("FM21", "open_sensor", _("open sensor out of place or dead")),
    ("FM22", "closed_sensor", _("closed sensor out of place or dead")),
    ("FM23", "ajar_lamp", _("ajar lamp or its wire out")),
    ("FM24", "spring", _("spring weak")),
    ("FM25", "spring", _("spring broken")),
    ("FM26", "spring", _("spring over-wound")),
    ("FM27", "lift_cable", _("lift cable frayed, kinked or corroded")),
    ("FM28", "lift_cable", _("lift cable off its drum")),
    ("FM29", "roller", _("rollers worn or stuck")),
    ("FM30", "hinge", _("hinge cracked or pin worn")),
    ("FM31", "track", _("track dented, out of line or dirty")),
    ("FM32", "bottom_seal", _("bottom seal torn or frozen")),
    ("FM33", "panel", _("panel or slat damaged by impact")),
    ("FM34", "turnbuckle", _("turnbuckle or linkage loose or worn")),
    ("FM35", "manual_release", _("manual release stuck or left open")),
    ("FM36", "control_board", _("reverse function insensitive")),
    ("FM37", "control_board", _("reverses without cause")),
    ("FM38", "counter", _("counter stuck, reset or dead")),
    ("FM39", "gasket", _("control box wet or loose")),
)
FAILURE_MODES = {code: FailureMode(code, part, name) for code, part, name in _MODES}
MODE_CHOICES = [(mode.code, mode.name) for mode in FAILURE_MODES.values()]
